"""Makes the recordings of fixtures/captures again, with the note of what they hold.

    PYTHONPATH=ci/python/usr/lib/python3/dist-packages /usr/bin/python3 tests/outside/captures.py

The answers come from what made the recording (ngspice's Fourier analysis, or the numbers that a tone
was synthesised from), never from afterload.
"""

import json
import math
import os

import numpy as np

import circuit
import wave_file

FOLDER = os.path.realpath(
    os.path.join(os.path.dirname(__file__), "..", "..", "fixtures", "captures")
)


def of_the_circuit(name, spread, drive, bias):
    sense, harmonics = circuit.simulate(spread, drive, 0.1)
    wave_file.write(os.path.join(FOLDER, name), sense, circuit.RATE)
    return {
        "file": name,
        "holds": f"fixtures/ngspice/class-ab.cir, {bias}, through its divider of 30 to 1 into a card "
        "of 1 V peak; low-passed and sampled at 192 kHz, 24 bits, no dither",
        "signal": "tone",
        "full_scale_v": circuit.DIVIDER,
        "load_ohm": circuit.LOAD_OHM,
        "frequency_hz": circuit.TONE_HZ,
        "output_voltage_v": harmonics[1] / math.sqrt(2),
        "output_power_w": harmonics[1] ** 2 / 2 / circuit.LOAD_OHM,
        "harmonics_v_peak": [round(float(each), 12) for each in harmonics],
        "thd_to_order_20": circuit.distortion(harmonics, 20),
        "answers_from": "ngspice, fourier command, last period of the same transient",
    }


def with_a_gap(name):
    rate, frequency, peak, at, lost = 48000, 997, 0.5, 12000, 37
    t = np.arange(24000 + lost) / rate
    tone = peak * np.sin(2 * np.pi * frequency * t)
    wave_file.write(os.path.join(FOLDER, name), np.delete(tone, slice(at, at + lost)), rate, 16)
    return {
        "file": name,
        "holds": f"a sine of {frequency} Hz with {lost} samples missing at {at / rate} s, 16 bits",
        "signal": "tone",
        "full_scale_v": 1.0,
        "frequency_hz": frequency,
        "output_voltage_v": peak / math.sqrt(2),
        "fault": {"kind": "gap", "start_s": at / rate},
        "answers_from": "the numbers it was made from",
    }


if __name__ == "__main__":
    notes = [
        of_the_circuit("class-ab-starved-1w.wav", 2.1, 0.178, "starved bias (4 uA)"),
        of_the_circuit("class-ab-starved-10w.wav", 2.1, 0.563, "starved bias (4 uA)"),
        of_the_circuit("class-ab-adjusted-1w.wav", 2.37, 0.178, "adjusted bias (18 mA)"),
        with_a_gap("gap.wav"),
    ]
    with open(os.path.join(FOLDER, "captures.json"), "w") as file:
        json.dump(notes, file, indent=2)
        file.write("\n")

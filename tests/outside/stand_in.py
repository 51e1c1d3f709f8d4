"""A bench on which an audio server stands where a sound card is meant, with LADSPA plugins as the
amplifier, and runs on it.
"""

import json
import os
import subprocess

from analyze import PROGRAM
from audio_server import RATE

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
FULL_SCALE = 134.4  # V peak at the unit's terminals, 41.5 dB over the source's
LOW_PASS = ["lowpass_iir_1891", "lowpass_iir", "18000", "1"]
VALVE = ["valve_1209", "valve", "0.05", "0.1"]

BENCH = f"""afterload: bench/1
name: stand-in
stand_in: true
card: {{name: stand-in card, driver: sound_card, device: bench_card, rate: {RATE / 1000:g} kHz, bits: 24}}
source: {{full_scale: 0.8 V, impedance: 100 ohm, level_uncertainty: 0.4 %, calibrated: 2026-03-02}}
ranges:
  - name: only
    full_scale: {FULL_SCALE} V peak
    safe: 140 V peak
    switched: fixed
    level_uncertainty: 0.25 %
    calibrated: 2026-03-02
loads:
  - {{channel: left, resistance: 8.02 ohm, continuous: 100 W, measured: 2026-03-02}}
  - {{channel: right, resistance: 8.02 ohm, continuous: 100 W, measured: 2026-03-02}}
limits: {{largest_drive: 0.8 V, largest_output: 60 W}}
sense: grounded
"""


def amplifier(server):
    """A low pass behind a stage that bends, between the card's output and its input."""
    for name, master, plugin in (("low_pass", "bench", LOW_PASS), ("amplifier", "low_pass", VALVE)):
        server.pactl("load-module", "module-ladspa-sink", f"sink_name={name}", f"sink_master={master}",
                     f"plugin={plugin[0]}", f"label={plugin[1]}", f"control={','.join(plugin[2:])}")  # fmt: skip


def run(folder, server, sequence, first="", bench_text=BENCH):
    """Starts the program in real time; the person has answered beforehand, `first` before all else."""
    bench = os.path.join(folder, "stand-in.bench.yaml")
    with open(bench, "w") as file:
        file.write(bench_text)
    answers = os.path.join(folder, "answers")
    with open(answers, "w") as file:
        file.write(first + "\n10 mV\n-1 mV\n" + 30 * "\n")
    command = [PROGRAM, "run", sequence, "--unit", os.path.join(ROOT, "fixtures/units/hollinfay-h40.rating.yaml"),
               "--house", os.path.join(ROOT, "fixtures/house.rating.yaml"), "--bench", bench,
               "--serial", "40-0117", "--stage", "repaired", "--runs", os.path.join(folder, "runs")]  # fmt: skip
    with open(answers) as typed:
        return subprocess.Popen(command, env=server.environment, stdin=typed, stdout=subprocess.PIPE,
                                stderr=subprocess.PIPE, text=True)  # fmt: skip


def outcome(folder):
    """The folder of the one run there is, and its document."""
    (name,) = os.listdir(os.path.join(folder, "runs"))
    path = os.path.join(folder, "runs", name)
    with open(os.path.join(path, "run.json")) as file:
        return path, json.load(file)

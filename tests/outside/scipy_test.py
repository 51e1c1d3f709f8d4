"""Levels, THD, THD+N and A-weighted noise of the same WAV files, afterload beside SciPy.

Bound: 0.05 dB. Where noise is read, both read the same noise through windows that weigh it
differently: with the 10 s records here that is about 0.01 dB.
"""

import math
import os
import subprocess
import tempfile
import unittest

import numpy as np

import reference
import wave_file
from analyze import analyze, figure, value

FULL_SCALE = 1.0
BOUND_DB = 0.05


def db(ratio):
    return 20 * math.log10(ratio)


def signal(rate, seconds, frequency, level_db, harmonics_db=(), noise_db=None, seed=1):
    """A tone of a peak `level_db` under full scale; harmonics (order 2 up) under the tone and white
    noise of an rms under full scale."""
    t = np.arange(round(seconds * rate)) / rate
    amplitude = 10 ** (level_db / 20)
    out = amplitude * np.sin(2 * np.pi * frequency * t + 0.4)
    for order, level in enumerate(harmonics_db, start=2):
        out += amplitude * 10 ** (level / 20) * np.sin(2 * np.pi * order * frequency * t + order)
    if noise_db is not None:
        out += 10 ** (noise_db / 20) * np.random.default_rng(seed).standard_normal(len(t))
    return out


class Scipy(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)

    def path(self, name):
        return os.path.join(self.folder.name, name)

    def document(self, path, kind):
        done = analyze([path], "--signal", kind, "--full-scale", f"{FULL_SCALE:g}V")
        self.assertEqual(done.status, 0, done.errors or done.documents)
        return done.documents[0]

    def agrees(self, what, here, there):
        print(f"{what}: {db(here / there):+.4f} dB")
        self.assertLess(abs(db(here / there)), BOUND_DB, what)

    def compare_tone(self, name, rate, frequency, samples, bits=24, floating=False):
        """Both channels of a file: the second is the first at half the level."""
        path = self.path(f"{name}.wav")
        wave_file.write(path, np.column_stack([samples, samples / 2]), rate, bits, floating)
        document = self.document(path, "tone")
        if floating:
            record = samples
        else:
            record = wave_file.read(path)[0][:, 0]
        found, amplitude, _ = reference.tone(record, rate, frequency)
        volts = amplitude / math.sqrt(2) * FULL_SCALE
        for channel, share in ((1, 1.0), (2, 0.5)):
            self.agrees(
                f"{name}, level {channel}",
                value(document, "output_voltage", channel),
                volts * share,
            )
        self.assertAlmostEqual(value(document, "frequency"), found, delta=1e-4 * found)
        return document, record

    def compare_distortion(self, name, rate, frequency, samples, **form):
        document, record = self.compare_tone(name, rate, frequency, samples, **form)
        thd = figure(document, "thd")
        highest = thd["conditions"]["highest_order"]
        self.agrees(
            f"{name}, THD to order {highest}",
            thd["value"],
            reference.thd(record, rate, frequency, highest),
        )
        noisy = figure(document, "thd_plus_noise")
        low, high = noisy["conditions"]["bandwidth_hz"]
        self.agrees(
            f"{name}, THD+N {low:g} to {high:g} Hz",
            noisy["value"],
            reference.thd_plus_noise(record, rate, frequency, low, high),
        )

    def test_levels_agree_from_full_scale_down_to_minus_eighty(self):
        for level in (-0.5, -20, -40, -60, -80):
            samples = signal(48000, 2.0, 997, level, noise_db=-115)
            self.compare_tone(f"{level} dBFS", 48000, 997, samples)

    def test_distortion_agrees_at_every_rate(self):
        for rate in (44100, 48000, 88200, 96000, 192000):
            samples = signal(rate, 4.0, 997, -1, (-60, -66, -80, -75), noise_db=-95)
            self.compare_distortion(f"{rate} Hz", rate, 997, samples)

    def test_distortion_agrees_for_low_and_high_tones(self):
        for frequency in (19.7, 100.3, 6301):
            samples = signal(48000, 10.0, frequency, -3, (-50, -55), noise_db=-90)
            self.compare_distortion(f"{frequency} Hz tone", 48000, frequency, samples)

    def test_distortion_agrees_in_sixteen_bits_and_in_floating_point(self):
        samples = signal(48000, 4.0, 1003.3, -6, (-55, -52), noise_db=-88)
        self.compare_distortion("16 bits", 48000, 1003.3, samples, bits=16)
        self.compare_distortion("float", 48000, 1003.3, samples, bits=32, floating=True)

    def test_noise_agrees_weighted_and_unweighted(self):
        for rate in (44100, 48000, 96000):
            noise = 1e-4 * np.random.default_rng(rate).standard_normal(10 * rate)
            path = self.path(f"noise-{rate}.wav")
            wave_file.write(path, noise, rate)
            self.compare_noise(path, f"white at {rate} Hz")

    def test_noise_agrees_where_it_falls_with_frequency(self):
        # Pink, and 30 s of it: a tenth of the power stands in the first octave, whose few
        # independent values two windows weigh differently (0.02 dB).
        path = self.path("pink.wav")
        subprocess.run(
            ["sox", "-R", "-r", "48000", "-b", "24", "-c", "1", "-n", path,
             "synth", "30", "pinknoise", "vol", "0.05"],
            check=True,
        )  # fmt: skip
        self.compare_noise(path, "pink")

    def compare_noise(self, path, name):
        document = self.document(path, "silence")
        samples, rate = wave_file.read(path)
        record = samples[:, 0] * FULL_SCALE
        band = [20.0, min(20000.0, 0.45 * rate)]
        for weighting, weight in (("none", None), ("A", reference.a_weighting)):
            found = figure(document, "noise_voltage", weighting=weighting, bandwidth_hz=band)
            low, high = found["conditions"]["bandwidth_hz"]
            self.agrees(
                f"{name}, noise weighted {weighting}, {low:g} to {high:g} Hz",
                found["value"],
                reference.noise(record, rate, low, high, weight),
            )

    def test_a_tone_made_by_sox_reads_the_same(self):
        path = self.path("sox.wav")
        subprocess.run(
            ["sox", "-R", "-r", "48000", "-b", "24", "-c", "2", "-n", path,
             "synth", "4", "sine", "1000", "gain", "-3"],
            check=True,
        )  # fmt: skip
        document = self.document(path, "tone")
        samples, rate = wave_file.read(path)
        _, amplitude, _ = reference.tone(samples[:, 0], rate, 1000)
        self.agrees("sox, level", value(document, "output_voltage"), amplitude / math.sqrt(2))


if __name__ == "__main__":
    unittest.main()

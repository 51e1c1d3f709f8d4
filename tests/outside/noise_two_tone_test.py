"""The figures of silence and of two tones from WAV files that NumPy made, beside SciPy.

Bound: the figure's own U (k = 2), which `afterload analyze` states for the fit alone. Both read the
same samples, so that what differs is the method; each test adds what its own method leaves open and
says so.
"""

import math
import os
import tempfile
import unittest

import numpy as np
import scipy.signal

import reference
import wave_file
from analyze import analyze, faults, figure

AUDIO = [20.0, 20000.0]
BROADCAST = [22.4, 22400.0]


def itu_r_468(frequency):
    """Complex response of the network of ITU-R BS.468-4, +12.2 dB at 6.3 kHz, from the polynomials
    printed in SMPTE RP 2054."""

    def network(f):
        real = np.polyval([-4.737338981378384e-24, 0, 2.043828333606125e-15, 0,
                           -1.363894795463638e-7, 0, 1], f)  # fmt: skip
        imaginary = np.polyval([1.306612257412824e-19, 0, -2.118150887518656e-11, 0,
                                5.559488023498642e-4, 0], f)  # fmt: skip
        return 1j * f / (real + 1j * imaginary)

    f = np.asarray(frequency, dtype=float)
    return 10 ** (12.2 / 20) * network(f) / abs(network(6300.0))


def quasi_peak(volts, rate):
    """Mean indication of the two-stage detector over `volts`, after a run over them to settle."""
    first = second = total = 0.0
    charge, keep = -math.expm1(-1 / (1.5e-3 * rate)), math.exp(-1 / (0.295 * rate))
    charge_2, keep_2 = -math.expm1(-1 / (0.228 * rate)), math.exp(-1 / (0.375 * rate))
    magnitudes = np.abs(volts).tolist()

    def run(samples, first, second):
        total = 0.0
        for x in samples:
            if x > first:
                first += charge * (x - first)
            first *= keep
            if first > second:
                second += charge_2 * (first - second)
            second *= keep_2
            total += second
        return first, second, total

    first, second, _ = run(magnitudes, first, second)
    first, second, total = run(magnitudes, first, second)
    # A meter reads the rms of a steady 1 kHz sine.
    t = np.arange(round(0.5 * rate)) / rate
    sine = np.abs(math.sqrt(2) * np.sin(2 * np.pi * 1000 * t)).tolist()
    a, b = 0.9, 0.85
    for _ in range(8):
        a, b, of_sine = run(sine, a, b)
    return total / len(magnitudes) / (of_sine / len(sine))


class NoiseAndTwoTones(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)

    def analysis(self, samples, rate, kind, *options, sound=True):
        path = os.path.join(self.folder.name, "capture.wav")
        wave_file.write(path, samples, rate)
        done = analyze([path], "--signal", kind, "--full-scale", "1V", *options)
        self.assertEqual(done.status, 0 if sound else 2, done.errors or done.documents)
        return done.documents[0], wave_file.read(path)[0]

    def within(self, what, found, there, room=0.0):
        bound = found["u_k2"] + room
        print(f"{what}: {found['value']:.6g}, SciPy {there:.6g}, bound {bound:.2g}")
        self.assertLess(abs(found["value"] - there), bound, what)

    def noise_like(self, rate, seconds, shape, seed):
        white = np.random.default_rng(seed).standard_normal(round(rate * seconds))
        bins = np.fft.rfft(white)
        f = np.fft.rfftfreq(len(white), 1 / rate)
        return 1e-3 * np.fft.irfft(bins * shape(np.maximum(f, 1.0)), len(white))

    def test_noise_agrees_in_both_bands_and_through_every_weighting(self):
        for name, shape in (("white", np.ones_like), ("pink", lambda f: np.sqrt(100 / f))):
            rate = 96000
            document, samples = self.analysis(self.noise_like(rate, 4, shape, 5), rate, "silence")
            record = samples[:, 0]
            for band, weighting, detector, weight in (
                (AUDIO, "none", None, None),
                (BROADCAST, "none", None, None),
                (AUDIO, "A", None, reference.a_weighting),
                (AUDIO, "ITU-R 468", "rms", lambda f: np.abs(itu_r_468(f))),
            ):
                conditions = {"weighting": weighting, "bandwidth_hz": band, "detector": detector}
                found = figure(document, "noise_voltage", **conditions)
                there = reference.noise(record, rate, *band, weight)
                self.within(f"{name}, {weighting}, {band}", found, there)

    def test_the_quasi_peak_reading_agrees(self):
        rate = 48000
        document, samples = self.analysis(
            self.noise_like(rate, 2, np.ones_like, 8), rate, "silence")  # fmt: skip
        record = samples[:, 0] - np.mean(samples[:, 0])
        fine = scipy.signal.resample(record, 4 * len(record))
        f = np.fft.rfftfreq(len(fine), 1 / (4 * rate))
        gain = np.where((f >= 20) & (f <= 20000), itu_r_468(f), 0)
        weighted = np.fft.irfft(np.fft.rfft(fine) * gain, len(fine))
        # The middle nine tenths, as the program reads them: the same noise.
        end = len(weighted) // 20
        there = quasi_peak(weighted[end:-end], 4 * rate)
        found = figure(document, "noise_voltage", weighting="ITU-R 468", detector="quasi-peak")
        self.within("quasi-peak", found, there)

    def test_the_density_agrees_with_welch(self):
        rate, seconds = 48000, 8
        noise = self.noise_like(rate, seconds, lambda f: np.sqrt(1 + 200 / f), 9)
        t = np.arange(len(noise)) / rate
        hum = 3e-3 * np.sin(2 * np.pi * 50.02 * t) + 1e-3 * np.sin(2 * np.pi * 150.06 * t)
        document, _ = self.analysis(noise + hum, rate, "silence", "--mains", "50Hz")
        found = figure(document, "noise_voltage", weighting="none", bandwidth_hz=AUDIO)
        # Of the noise without its hum: what the curve promises.
        f, density = scipy.signal.welch(noise, rate, nperseg=rate, detrend="constant")
        curve = found["curve"]
        edges = np.sqrt(AUDIO[1] / AUDIO[0]) ** (1 / len(curve["value"]))
        misses = 0
        for middle, here, u in zip(curve["frequency_hz"], curve["value"], curve["u_k1"]):
            inside = (f >= middle / edges) & (f <= middle * edges)
            if np.sum(inside) < 3:
                continue
            there = math.sqrt(np.mean(density[inside]))
            misses += abs(here - there) > 2 * u
            self.assertLess(abs(here - there), 5 * u, f"{middle:.4g} Hz")
        self.assertLess(misses, 6)  # of some 50
        self.within("without hum", {"value": found["details"]["without_mains_lines"],
                                    "u_k2": found["u_k2"]},
                    reference.noise(noise, rate, *AUDIO))  # fmt: skip

    def two_tones(self, low, high, share, rate, seconds, clock=1 + 137e-6):
        t = np.arange(round(rate * seconds)) / rate
        x = share * np.sin(2 * np.pi * low * clock * t + 0.3)
        x += (1 - share) * np.sin(2 * np.pi * high * clock * t + 1.0)
        x = 0.5 * (x + 0.02 * x**2 + 0.015 * x**3)
        x += 2e-6 * np.random.default_rng(4).standard_normal(len(t))
        return x + 1e-4 * np.sin(2 * np.pi * 50.02 * t), clock

    def lines(self, record, rate, clock, low, high):
        """Peak amplitudes by order pairs, by least squares at the true frequencies."""
        t = (np.arange(len(record)) - len(record) / 2) / rate
        orders = [(m, n) for n in range(0, 6) for m in range(-5, 6)
                  if 0 < abs(m) + n < 6 and (n > 0 or m > 0)]  # fmt: skip
        orders = [o for o in orders if abs(o[0] * low + o[1] * high) < 0.49 * rate]
        frequencies = [abs(m * low + n * high) * clock for m, n in orders] + [50.02]
        columns = [np.ones_like(t)]
        for f in frequencies:
            columns += [np.cos(2 * np.pi * f * t), np.sin(2 * np.pi * f * t)]
        fitted = np.linalg.lstsq(np.column_stack(columns), record, rcond=None)[0][1:]
        amplitudes = np.hypot(fitted[0::2], fitted[1::2])
        return {order: amplitude for order, amplitude in zip(orders, amplitudes)}

    def test_modulation_distortion_agrees(self):
        for low, high in ((60, 7000), (250, 8000)):
            rate = 96000
            samples, clock = self.two_tones(low, high, 0.8, rate, 0.5)
            document, stored = self.analysis(
                samples, rate, "two-tone", "--mains", "50Hz")  # fmt: skip
            line = self.lines(stored[:, 0], rate, clock, low, high)
            carrier = line[(0, 1)]
            pair = [line[(m, 1)] / carrier for m in (1, -1, 2, -2)]
            found = figure(document, "modulation_distortion")
            self.within(f"{low} and {high} Hz", found, math.sqrt(sum(a * a for a in pair)))
            for name, there in (("iec_second", pair[0] + pair[1]),
                                ("iec_third", pair[2] + pair[3])):  # fmt: skip
                # Details state no U: twice the figure's, for sums of magnitudes.
                here = {"value": found["details"][name], "u_k2": 2 * found["u_k2"]}
                self.within(name, here, there)

    def test_difference_frequency_distortion_agrees(self):
        rate, low, high = 192000, 19000, 20000
        samples, clock = self.two_tones(low, high, 0.5, rate, 0.25)
        document, stored = self.analysis(samples, rate, "two-tone")
        line = self.lines(stored[:, 0], rate, clock, low, high)
        both = 2 * line[(0, 1)]
        products = [line[(-1, 1)], line[(-2, 1)], line[(-1, 2)]]
        found = figure(document, "difference_frequency_distortion")
        self.within("19 and 20 kHz", found, math.sqrt(sum(a * a for a in products)) / both)
        here = {"value": found["details"]["iec_second"], "u_k2": 2 * found["u_k2"]}
        self.within("iec_second", here, products[0] / both)

    def test_a_gap_in_two_tones_is_found_and_a_whole_record_is_sound(self):
        for low, high, share in ((60, 7000, 0.8), (19000, 20000, 0.5)):
            samples, _ = self.two_tones(low, high, share, 48000, 1.0)
            document, _ = self.analysis(np.column_stack([samples, samples / 2]), 48000, "two-tone")
            self.assertEqual(faults(document), set())
            cut = np.delete(samples, slice(20000, 20000 + 101))
            document, _ = self.analysis(
                np.column_stack([cut, cut / 2]), 48000, "two-tone", sound=False)  # fmt: skip
            self.assertEqual(faults(document), {"gap"})
            gap = document["capture"]["faults"][0]
            self.assertAlmostEqual(gap["start_s"], 20000 / 48000, delta=5e-3)

    def test_a_telegraph_signal_is_counted_and_silence_is_not(self):
        rate = 48000
        noise = self.noise_like(rate, 4, lambda f: np.sqrt(1 + 500 / f), 3)
        jumps = np.cumsum(np.random.default_rng(2).uniform(0.05, 0.4, 12)) + 0.3
        steps = np.zeros(len(noise))
        for number, moment in enumerate(jumps):
            steps[round(moment * rate) :] += 6e-3 * (-1) ** number
        document, _ = self.analysis(
            np.column_stack([noise + steps, noise]), rate, "silence", "--mains", "50Hz")  # fmt: skip
        found = figure(document, "random_steps", 1)
        details = found["details"]
        self.assertLess(details["smallest_step"], 6e-3)
        self.assertAlmostEqual(found["value"], len(jumps) / details["watched"])
        for number, moment in enumerate(jumps):
            self.assertAlmostEqual(details[f"step_{number + 1}_at"], moment, delta=1e-3)
        # A deviation of a step is a 10.5th of the smallest one; the median of twelve.
        self.assertAlmostEqual(
            details["step_size"], 6e-3, delta=2 * details["smallest_step"] / 10.5)  # fmt: skip
        quiet = figure(document, "random_steps", 2)
        self.assertIsNone(quiet["value"])
        self.assertAlmostEqual(quiet["bound"], 3 / quiet["details"]["watched"])


if __name__ == "__main__":
    unittest.main()

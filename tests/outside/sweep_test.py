"""Swept responses of captures that SciPy made, beside the filters' own.

NumPy makes the stimulus: an exponential sweep (Novak's formula) between two pilots. SciPy filters it
with known digital filters. On a card whose clock is off the stimulus is made anew from its formula at
the card's times; the filters run on the card's samples, and the curve's frequencies, which are the
source's, are compared with the response at what the card sees them as.

Bounds: 0.01 dB and 0.1 degree from 10 Hz to 20 kHz, what a response is asked to hold. The captures
are 24 bits, whose noise is below a hundredth of that.
"""

import math
import os
import tempfile
import unittest

import numpy as np
from scipy import signal

import wave_file
from analyze import analyze, faults, figure

RATE = 48000
LOW, HIGH = 5.0, 23500.0
LEVEL = 0.15  # of full scale: the filters lift it by up to six times
BOUND_DB, BOUND_DEGREES = 0.01, 0.1


class Stimulus:
    """A sweep of about two seconds with or without pilots, at any times."""

    def __init__(self, pilot=1000.0, gap=0.15, synchronised=True):
        growth = 2.0 / math.log(HIGH / LOW)
        self.growth = round(LOW * growth) / LOW if synchronised else growth
        self.pilot, self.gap = pilot, gap if pilot else 0.1
        self.tone = 0.3 if pilot else 0.0
        self.start = 0.05 + self.tone + self.gap
        self.length = self.growth * math.log(HIGH / LOW)
        self.after = self.start + self.length + 0.5
        self.seconds = self.after + self.tone + 0.05

    @staticmethod
    def faded(t, length, rise, fall):
        inside = (t >= 0) & (t <= length)
        up = np.clip(t / rise, 0, 1)
        down = np.clip((length - t) / fall, 0, 1)
        return inside * (0.5 - 0.5 * np.cos(np.pi * up)) * (0.5 - 0.5 * np.cos(np.pi * down))

    def at(self, t):
        since = t - self.start
        turns = LOW * self.growth * np.exp(np.clip(since, 0, self.length) / self.growth)
        fade_out = self.growth * math.log(HIGH / 21700)
        envelope = self.faded(since, self.length, 0.5 * self.growth * math.log(2), fade_out)
        out = LEVEL * envelope * np.sin(2 * np.pi * turns)
        if self.pilot:
            for begin in (0.05, self.after):
                fade = self.faded(t - begin, self.tone, 0.02, 0.02)
                out = out + LEVEL * fade * np.sin(2 * np.pi * self.pilot * t)
        return out


def shelf(hertz, gain_db):
    """Low shelf of second order by the bilinear transform of an analogue one."""
    a = 10 ** (gain_db / 40)
    w = 2 * RATE * math.tan(math.pi * hertz / RATE)
    b = [a, a * math.sqrt(a) / 0.707 * w, a * a * w * w]
    c = [a, math.sqrt(a) / 0.707 * w, w * w]
    return signal.tf2sos(*signal.bilinear(b, c, RATE))


def resonance(hertz, q):
    """Low pass of second order with a peak of `q`."""
    w = 2 * RATE * math.tan(math.pi * hertz / RATE)
    return signal.tf2sos(*signal.bilinear([w * w], [1, w / q, w * w], RATE))


UNITS = {
    "band pass from 2 Hz": np.vstack(
        [
            signal.butter(2, 2.0, "high", fs=RATE, output="sos"),
            signal.butter(3, 20000.0, "low", fs=RATE, output="sos"),
        ]
    ),
    "low shelf": shelf(200.0, 9.0),
    "resonant low pass": resonance(3000.0, 6.0),
    "equal ripple at 9 kHz": signal.cheby1(3, 3.0, 9000.0, "low", fs=RATE, output="sos"),
}


class Sweep(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)

    def path(self, name):
        return os.path.join(self.folder.name, name)

    def played(self, stimulus, rate=RATE):
        path = self.path("stimulus.wav")
        times = np.arange(round(stimulus.seconds * rate)) / rate
        wave_file.write(path, stimulus.at(times), rate, 32, True)
        return path

    def captured(self, stimulus, ppm=0.0, delay=2345, sos=None, seconds=None, bend=None):
        """What a card that runs fast by `ppm` records, `delay` of its samples late."""
        seconds = seconds or stimulus.seconds + 0.3
        times = (np.arange(round(seconds * RATE)) - delay) / (RATE * (1 + 1e-6 * ppm))
        samples = stimulus.at(times)
        if bend:
            samples = bend(samples)
        return samples if sos is None else signal.sosfilt(sos, samples)

    def document(self, samples, stimulus_path, status=0, bits=24):
        path = self.path("capture.wav")
        wave_file.write(path, samples, RATE, bits)
        done = analyze([path], "--signal", f"sweep:{stimulus_path}")
        self.assertEqual(done.status, status, done.errors or done.documents)
        return done.documents[0] if done.documents else done

    def compare(self, name, document, sos, ppm, phase, channel=1):
        response = figure(document, "frequency_response", channel)
        curve = response["curve"]
        hertz = np.array(curve["frequency_hz"])
        inside = (hertz >= 10) & (hertz <= 20000)
        self.assertLessEqual(hertz[0], 10)
        self.assertGreaterEqual(hertz[-1], 20000)
        self.assertGreater(np.count_nonzero(inside), 240)
        seen = hertz / (1 + 1e-6 * ppm)
        _, truth = signal.sosfreqz(sos, seen, fs=RATE)
        reference = response["conditions"]["reference_hz"]
        _, at_reference = signal.sosfreqz(sos, [reference / (1 + 1e-6 * ppm)], fs=RATE)
        level = np.array(curve["value"]) - 20 * np.log10(np.abs(truth / at_reference[0]))
        worst = np.max(np.abs(level[inside]))
        print(f"{name}, {ppm:g} ppm: {worst:.5f} dB", end="")
        self.assertLess(worst, BOUND_DB, name)
        if not phase:
            print()
            self.assertEqual(curve["phase_deg"], [])
            return
        turned = np.array(curve["phase_deg"]) - np.degrees(np.angle(truth))
        turned = (turned + 180) % 360 - 180
        worst = np.max(np.abs(turned[inside]))
        print(f", {worst:.4f} degrees, arrival at {response['details']['delay'] * RATE:.3f}")
        self.assertLess(worst, BOUND_DEGREES, name)

    def test_responses_are_those_of_the_filters_on_one_clock(self):
        stimulus = Stimulus()
        path = self.played(stimulus)
        for name, sos in UNITS.items():
            document = self.document(self.captured(stimulus, sos=sos), path)
            self.compare(name, document, sos, 0.0, phase=True)

    def test_responses_are_those_of_the_filters_at_a_hundred_ppm(self):
        stimulus = Stimulus()
        path = self.played(stimulus)
        for ppm in (100.0, -100.0):
            for name, sos in UNITS.items():
                document = self.document(self.captured(stimulus, ppm, sos=sos), path)
                self.compare(name, document, sos, ppm, phase=True)

    def test_other_pilots_do_as_well_and_a_sweep_need_not_be_synchronised(self):
        sos = UNITS["low shelf"]
        for pilot, gap in ((440.0, 0.2), (5000.0, 0.08)):
            stimulus = Stimulus(pilot, gap, synchronised=False)
            path = self.played(stimulus)
            document = self.document(self.captured(stimulus, 100.0, sos=sos), path)
            self.compare(f"pilot {pilot:g} Hz", document, sos, 100.0, phase=True)

    def test_without_pilots_there_is_a_magnitude_and_no_phase(self):
        stimulus = Stimulus(pilot=None)
        path = self.played(stimulus)
        for ppm in (0.0, 100.0):
            sos = UNITS["band pass from 2 Hz"]
            document = self.document(self.captured(stimulus, ppm, sos=sos), path)
            self.compare("no pilots", document, sos, ppm, phase=False)
            self.assertIn("no phase", document["capture"]["notes"][0])

    def test_a_linear_chirp_gives_the_magnitude_alone_and_says_so(self):
        times = np.arange(2 * RATE) / RATE
        chirp = 0.5 * signal.chirp(times, 2, 2, 23900)
        path = self.path("stimulus.wav")
        wave_file.write(path, chirp, RATE, 24)
        sos = UNITS["equal ripple at 9 kHz"]
        samples = signal.sosfilt(sos, np.concatenate([np.zeros(999), chirp, np.zeros(RATE // 2)]))
        document = self.document(samples, path)
        self.compare("linear chirp", document, sos, 0.0, phase=False)
        self.assertIn("no exponential sweep", document["capture"]["notes"][0])
        self.assertIn("no exponential sweep", figure(document, "thd")["unresolved"])

    def test_harmonics_of_a_bent_signal_are_those_of_the_polynomial(self):
        # x + b x² of a sine of peak a: H2 = a b/2, phase 0 of cosines. Bent at four times the rate,
        # so that nothing folds back.
        stimulus = Stimulus()
        path = self.played(stimulus)
        times = (np.arange(4 * round((stimulus.seconds + 0.3) * RATE)) - 4 * 2345) / (4 * RATE)
        clean = stimulus.at(times)
        samples = signal.resample_poly(clean + 0.02 * clean**2, 1, 4, window=("kaiser", 12.0))
        document = self.document(samples, path)
        second = next(
            each
            for each in document["channels"][0]["figures"]
            if each["figure"] == "harmonic" and each["details"]["order"] == 2
        )
        hertz = np.array(second["curve"]["frequency_hz"])
        inside = (hertz > 100) & (hertz < 5000)
        level = 20 * np.log10(np.array(second["curve"]["value"]) / (0.5 * LEVEL * 0.02))
        print(f"H2: {np.max(np.abs(level[inside])):.4f} dB")
        self.assertLess(np.max(np.abs(level[inside])), 0.05)
        self.assertLess(np.max(np.abs(np.array(second["curve"]["phase_deg"])[inside])), 0.5)

    def test_each_channel_has_its_own_response(self):
        stimulus = Stimulus()
        path = self.played(stimulus)
        left, right = UNITS["low shelf"], UNITS["equal ripple at 9 kHz"]
        both = [self.captured(stimulus, sos=sos) for sos in (left, right)]
        document = self.document(np.column_stack(both), path)
        self.compare("left", document, left, 0.0, phase=True, channel=1)
        self.compare("right", document, right, 0.0, phase=True, channel=2)

    def test_captures_that_are_not_fit_are_said_to_be(self):
        stimulus = Stimulus()
        path = self.played(stimulus)
        whole = self.captured(stimulus)
        sweep_ends = 2345 + round((stimulus.start + stimulus.length) * RATE)
        cut = self.document(whole[: sweep_ends - RATE // 4], path, status=2)
        self.assertIn("short", faults(cut))
        silent = self.document(np.zeros(4 * RATE), path, status=2)
        self.assertIn("silent", faults(silent))
        noise = 0.1 * np.random.default_rng(3).standard_normal(4 * RATE)
        self.assertIn("silent", faults(self.document(noise, path, status=2)))
        clipped = self.document(np.clip(9 * whole, -1, 1 - 2**-23), path, status=2)
        self.assertIn("clipped", faults(clipped))
        gap = np.delete(whole, slice(80000, 80011))
        self.assertIn("gap", faults(self.document(gap, path, status=2)))

    def test_a_stimulus_of_another_rate_is_refused(self):
        stimulus = Stimulus()
        path = self.played(stimulus, rate=96000)
        capture = self.path("capture.wav")
        wave_file.write(capture, self.captured(stimulus), RATE)
        done = analyze([capture], "--signal", f"sweep:{path}")
        self.assertEqual(done.status, 65)
        self.assertIn("96000", done.errors + str(done.documents))
        missing = analyze([capture], "--signal", f"sweep:{self.path('none.wav')}")
        self.assertEqual(missing.status, 65)


if __name__ == "__main__":
    unittest.main()

"""Faults at known places in captures that others made: `afterload analyze --watch` lists exactly
these, and nothing in captures without any.

Places: a level is known within half a period of the tone (0.5 ms at 997 Hz: near its zeros no level
can be told), hum, distortion and offset within half of the 0.1 s windows they are read in.
"""

import os
import struct
import subprocess
import tempfile
import unittest

import numpy as np

import wave_file
from analyze import PROGRAM, analyze, faults, value

RATE = 48000
TONE = 997.0


def tone(seconds, amplitudes=(0.5, 0.4), rate=RATE, frequency=TONE, seed=1):
    """H2 at -80 dBc, noise at -90 dB of full scale, hum at -60 dBc on a mains a little off."""
    t = np.arange(round(seconds * rate)) / rate
    noise = np.random.default_rng(seed)
    out = np.empty((len(t), len(amplitudes)))
    for channel, amplitude in enumerate(amplitudes):
        out[:, channel] = amplitude * (
            np.cos(2 * np.pi * frequency * t + 0.3 * channel)
            + 1e-4 * np.cos(2 * np.pi * 2 * frequency * t + 1.0)
            + 1e-3 * np.cos(2 * np.pi * 50.01 * t + 0.5)
        )
    return out + 10 ** (-90 / 20) / np.sqrt(2) * noise.standard_normal(out.shape)


class Capture(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)

    def path(self, name):
        return os.path.join(self.folder.name, name)

    def watch(self, samples, rate=RATE, bits=24, floating=False):
        wave_file.write(self.path("a.wav"), samples, rate, bits, floating)
        return self.watch_file("a.wav")

    def watch_file(self, name):
        done = analyze([self.path(name)], "--watch", "--signal", "tone", "--mains", "50Hz")
        self.assertEqual(len(done.documents), 1, done.errors)
        document = done.documents[0]
        self.assertEqual(done.status, 0 if document["capture"]["sound"] else 2)
        return document

    def only(self, document):
        self.assertEqual(len(document["events"]), 1, document["events"])
        return document["events"][0]


class Watch(Capture):
    def test_nothing_happens_on_a_clean_tone(self):
        document = self.watch(tone(20))
        self.assertEqual(document["events"], [])
        self.assertTrue(document["capture"]["sound"])
        self.assertAlmostEqual(value(document, "output_voltage"), 0.5 / np.sqrt(2), delta=1e-5)
        self.assertAlmostEqual(value(document, "frequency"), TONE, delta=1e-4)
        self.assertAlmostEqual(value(document, "thd"), 1e-4, delta=5e-6)
        self.assertAlmostEqual(value(document, "hum_voltage"), 0.5e-3 / np.sqrt(2), delta=5e-6)

    def test_missing_samples_are_the_rig_and_the_capture_is_unsound(self):
        for missing in (1, 137, 480):
            with self.subTest(missing=missing):
                document = self.watch(np.delete(tone(10), slice(240000, 240000 + missing), axis=0))
                event = self.only(document)
                self.assertEqual(
                    (event["class"], event["channel"], event["size"], event["unit"]),
                    ("gap", 0, missing, "samples"),
                )
                self.assertEqual((event["blame"], event["timeline_intact"]), ("rig", False))
                self.assertAlmostEqual(event["start_s"], 5.0, delta=0.0005)
                self.assertEqual(faults(document), {"gap"})

    def test_samples_that_stand_twice_are_the_rig_and_the_capture_is_unsound(self):
        for again in (64, 512, 4096):
            with self.subTest(again=again):
                clean = tone(10)
                document = self.watch(np.concatenate([clean[:240000], clean[240000 - again :]]))
                event = self.only(document)
                self.assertEqual(
                    (event["class"], event["channel"], event["size"]), ("repeat", 0, again)
                )
                self.assertEqual((event["blame"], event["timeline_intact"]), ("rig", False))
                self.assertEqual(faults(document), {"repeat"})

    def test_dropout_of_five_milliseconds_in_one_channel_is_the_unit_or_its_lead(self):
        samples = tone(10)
        samples[240100:240340, 0] = 0
        event = self.only(self.watch(samples))
        self.assertEqual((event["class"], event["channel"]), ("dropout", 1))
        self.assertEqual((event["blame"], event["timeline_intact"]), ("unit_or_lead", True))
        self.assertAlmostEqual(event["start_s"], 240100 / RATE, delta=0.0005)
        self.assertAlmostEqual(event["duration_s"], 0.005, delta=0.0008)
        self.assertLess(event["size"], -40)

    def test_dropout_of_both_channels_is_the_unit_or_the_mains(self):
        samples = tone(10)
        samples[240100:336000] *= 0
        event = self.only(self.watch(samples))
        self.assertEqual((event["class"], event["channel"]), ("dropout", 0))
        self.assertEqual(event["blame"], "unit_or_mains")
        self.assertAlmostEqual(event["duration_s"], 95900 / RATE, delta=0.001)

    def test_level_steps_of_one_and_of_both_channels(self):
        samples = tone(14)
        samples[240000:336000, 1] *= 10 ** (-0.3 / 20)
        samples[480000:] *= 10 ** (0.7 / 20)
        first, second = self.watch(samples)["events"]
        self.assertEqual(
            (first["class"], first["channel"], first["blame"]), ("level", 2, "unit_or_lead")
        )
        self.assertAlmostEqual(first["size"], -0.3, delta=0.01)
        self.assertAlmostEqual(first["start_s"], 5.0, delta=0.0005)
        self.assertAlmostEqual(first["duration_s"], 2.0, delta=0.001)
        self.assertEqual(
            (second["class"], second["channel"], second["blame"]), ("level", 0, "unit_or_mains")
        )
        self.assertAlmostEqual(second["size"], 0.7, delta=0.01)
        self.assertAlmostEqual(second["duration_s"], 4.0, delta=0.001)

    def test_converter_that_clips_is_the_rig_and_the_capture_is_unsound(self):
        samples = tone(10, amplitudes=(0.98, 0.4))
        samples[240000:288000, 0] = np.clip(1.03 * samples[240000:288000, 0], -1, 1 - 2**-23)
        document = self.watch(samples)
        event = self.only(document)
        self.assertEqual((event["class"], event["channel"]), ("clipping", 1))
        self.assertEqual(event["blame"], "rig")
        self.assertAlmostEqual(event["start_s"], 5.0, delta=0.0015)
        self.assertAlmostEqual(event["duration_s"], 1.0, delta=0.002)
        self.assertEqual(faults(document), {"clipped"})

    def test_offset_hum_noise_and_distortion_rise_in_one_channel(self):
        t = np.arange(96000) / RATE + 5.0
        noise = np.random.default_rng(2).standard_normal(96000)
        for kind, added, size, delta in (
            ("offset", 0.01, 0.01, 2e-4),
            ("hum", 3e-3 * np.cos(2 * np.pi * 150.03 * t), 3e-3 / np.sqrt(2), 1e-4),
            ("noise", 2e-3 * noise, 2e-3, 5e-5),
            # of 0.4 V, and what was there
            ("distortion", 4e-4 * np.cos(2 * np.pi * 3 * TONE * t), 1e-3, 2e-5),
        ):
            with self.subTest(kind=kind):
                samples = tone(10)
                samples[240000:336000, 1] += added
                event = self.only(self.watch(samples))
                self.assertEqual((event["class"], event["channel"]), (kind, 2))
                self.assertEqual(event["blame"], "unit_or_lead")
                self.assertAlmostEqual(event["size"], size, delta=delta)
                self.assertAlmostEqual(event["start_s"], 5.0, delta=0.05)
                self.assertAlmostEqual(event["duration_s"], 2.0, delta=0.1)

    def test_silence_before_and_after_the_tone_is_no_event(self):
        quiet = 1e-5 * np.random.default_rng(3).standard_normal((70000, 2))
        document = self.watch(np.concatenate([quiet, tone(5), quiet]))
        self.assertEqual(document["events"], [])
        self.assertEqual({part["why"] for part in document["unwatched"]}, {"silent"})
        self.assertTrue(document["capture"]["sound"])

    def test_silence_is_unsound(self):
        quiet = 1e-5 * np.random.default_rng(3).standard_normal((70000, 2))
        self.assertEqual(faults(self.watch(quiet)), {"silent"})

    def test_file_that_was_cut_off_says_so(self):
        self.watch(tone(5))
        with open(self.path("a.wav"), "r+b") as file:
            file.truncate(900000)
        document = self.watch_file("a.wav")
        self.assertEqual(faults(document), {"short"})
        self.assertEqual(document["events"], [])

    def test_pipe_is_refused_with_what_to_do(self):
        os.mkfifo(self.path("pipe.wav"))
        done = subprocess.run(
            [PROGRAM, "analyze", self.path("pipe.wav"), "--watch"],
            capture_output=True,
            text=True,
            timeout=60,
        )
        self.assertEqual(done.returncode, 65)
        self.assertIn("record into a file", done.stderr)


class WatchedFormats(Capture):
    def gap_in(self, name, rate, channels):
        document = self.watch_file(name)
        event = self.only(document)
        self.assertEqual((event["class"], event["size"]), ("gap", 33))
        self.assertEqual(document["capture"]["rate_hz"], rate)
        self.assertEqual(len(document["channels"]), channels)

    def source(self, rate, channels, bits=24, floating=False):
        """A WAV with 33 samples missing at 2 s."""
        samples = tone(4, amplitudes=np.linspace(0.5, 0.3, channels), rate=rate)
        samples = np.delete(samples, slice(2 * rate, 2 * rate + 33), axis=0)
        wave_file.write(self.path("source.wav"), samples, rate, bits, floating)

    def by_sox(self, name, *options):
        subprocess.run(
            ["sox", self.path("source.wav"), "-D", *options, self.path(name)],
            check=True,
            capture_output=True,
        )

    def test_every_depth_of_wav(self):
        for bits, floating in ((16, False), (24, False), (32, False), (32, True), (64, True)):
            with self.subTest(bits=bits, floating=floating):
                self.source(RATE, 2, bits, floating)
                self.gap_in("source.wav", RATE, 2)

    def test_files_that_sox_wrote(self):
        self.source(RATE, 2)
        for name, options in (
            ("a.flac", ("-b", "24")),
            ("b.flac", ("-b", "16")),
            ("c.wav", ("-b", "32", "-e", "floating-point")),
            ("d.wav", ("-b", "16")),
            ("e.w64", ("-b", "24")),
        ):
            with self.subTest(name=name):
                self.by_sox(name, *options)
                self.gap_in(name, RATE, 2)

    def test_one_to_eight_channels_and_the_rates_of_cards(self):
        for channels in (1, 8):
            with self.subTest(channels=channels):
                self.source(RATE, channels)
                self.gap_in("source.wav", RATE, channels)
        for rate in (44100, 96000, 192000, 384000):
            with self.subTest(rate=rate):
                self.source(rate, 2)
                self.gap_in("source.wav", rate, 2)

    def test_rf64(self):
        self.source(RATE, 2)
        with open(self.path("source.wav"), "rb") as file:
            content = file.read()
        data = content[44:]
        frames = len(data) // 6
        sizes = struct.pack("<4sIQQQI", b"ds64", 28, len(content) + 28, len(data), frames, 0)
        with open(self.path("a.rf64"), "wb") as file:
            file.write(b"RF64\xff\xff\xff\xffWAVE" + sizes + content[12:36])
            file.write(b"data\xff\xff\xff\xff" + data)
        self.gap_in("a.rf64", RATE, 2)


if __name__ == "__main__":
    unittest.main()

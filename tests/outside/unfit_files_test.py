"""Recordings that are not fit to judge, made with sox or by hand: each gets its message and its exit
status, and none hides behind another. 65: cannot be read; 2: read, and unsound.
"""

import os
import shutil
import struct
import subprocess
import tempfile
import unittest

import numpy as np

import wave_file
from analyze import analyze, faults, figure, value


def sine(rate, seconds, frequency, amplitude=0.5):
    t = np.arange(round(rate * seconds)) / rate
    return amplitude * np.sin(2 * np.pi * frequency * t)


class UnfitFiles(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)

    def path(self, name):
        return os.path.join(self.folder.name, name)

    def sox(self, name, *form, effect=("synth", "2", "sine", "997", "vol", "0.5")):
        path = self.path(name)
        subprocess.run(["sox", "-R", "-n", *form, path, *effect], check=True)
        return path

    def good(self, name="good.wav"):
        return self.sox(name, "-r", "48000", "-b", "24", "-c", "2")

    def tone(self, *paths):
        return analyze(paths, "--signal", "tone", "--full-scale", "1V")

    def unreadable(self, path, *words):
        """One document a capture even so, and a message that names the file and says what to do."""
        done = self.tone(path)
        self.assertEqual(done.status, 65, done.errors or done.documents)
        said = done.errors + str(done.documents)
        print(done.errors.strip() or done.documents)
        self.assertIn(os.path.basename(path), said)
        for word in words:
            self.assertIn(word, said)

    def unsound(self, path, *kinds):
        done = self.tone(path)
        self.assertEqual(done.status, 2, done.errors or done.documents)
        capture = done.documents[0]["capture"]
        print(capture["faults"])
        self.assertFalse(capture["sound"])
        for kind in kinds:
            self.assertIn(kind, faults(done.documents[0]))
        return done.documents[0]

    def test_a_sound_capture_is_sound(self):
        done = self.tone(self.good())
        self.assertEqual(done.status, 0, done.errors or done.documents)
        self.assertTrue(done.documents[0]["capture"]["sound"])
        self.assertEqual(done.documents[0]["capture"]["faults"], [])
        self.assertEqual(done.documents[0]["schema"], "afterload/analysis/1")
        self.assertEqual(done.documents[0]["uncertainty"], "fit_only")

    def test_eight_bits_are_refused(self):
        self.unreadable(self.sox("eight.wav", "-r", "48000", "-b", "8", "-c", "2"), "8 bits")

    def test_an_empty_file_is_refused(self):
        path = self.path("empty.wav")
        open(path, "w").close()
        self.unreadable(path, "empty")

    def test_a_header_without_frames_is_refused(self):
        path = self.path("header.wav")
        wave_file.write(path, np.zeros((0, 2)), 48000)
        self.unreadable(path)

    def test_what_is_not_a_wav_is_refused(self):
        path = self.path("note.wav")
        with open(path, "w") as file:
            file.write("bias left 4.1 mV, right 4.0 mV\n" * 50)
        self.unreadable(path, "not a sound file")

    def test_a_file_that_is_not_there_is_refused(self):
        self.unreadable(self.path("absent.wav"))

    def test_a_folder_is_refused(self):
        self.unreadable(self.folder.name)

    def test_a_truncated_file_is_unsound(self):
        good, path = self.good(), self.path("truncated.wav")
        shutil.copy(good, path)
        os.truncate(path, os.path.getsize(path) // 2 + 1)
        self.unsound(path, "short")

    def test_a_truncated_header_is_refused(self):
        good, path = self.good(), self.path("stump.wav")
        shutil.copy(good, path)
        os.truncate(path, 30)
        self.unreadable(path)

    def test_all_zeros_are_silent(self):
        path = self.sox("zeros.wav", "-r", "48000", "-b", "24", "-c", "2", effect=("trim", "0", "2"))
        self.unsound(path, "silent")

    def test_one_silent_channel_is_named(self):
        path = self.path("left-only.wav")
        left = sine(48000, 2, 997)
        wave_file.write(path, np.column_stack([left, np.zeros_like(left)]), 48000)
        document = self.unsound(path, "silent")
        silent = [each for each in document["capture"]["faults"] if each["kind"] == "silent"]
        self.assertEqual([each["channel"] for each in silent], [2])

    def test_samples_that_are_not_numbers_are_unsound(self):
        for name, wrong in (("nan", float("nan")), ("inf", float("inf"))):
            samples = sine(48000, 2, 997)
            samples[48000] = wrong
            path = self.path(f"{name}.wav")
            wave_file.write(path, samples, 48000, 32, floating=True)
            document = self.unsound(path, "not_finite")
            at = document["capture"]["faults"][0]["start_s"]
            self.assertAlmostEqual(at, 1.0, delta=1e-4)

    def test_a_clipped_capture_is_unsound(self):
        path = self.sox(
            "clipped.wav", "-r", "48000", "-b", "16", "-c", "1",
            effect=("synth", "2", "sine", "997", "gain", "1"),
        )  # fmt: skip
        self.unsound(path, "clipped")

    def test_a_capture_of_a_few_samples_is_too_short(self):
        path = self.path("short.wav")
        wave_file.write(path, sine(48000, 0.001, 997), 48000)
        self.unsound(path, "short")

    def test_mono_has_figures_and_no_pairs(self):
        done = self.tone(self.sox("mono.wav", "-r", "48000", "-b", "24", "-c", "1"))
        self.assertEqual(done.status, 0, done.errors or done.documents)
        document = done.documents[0]
        self.assertEqual([part["channel"] for part in document["channels"]], [1])
        self.assertEqual(document.get("pairs", []), [])
        self.assertAlmostEqual(value(document, "output_voltage"), 0.5 / 2**0.5, delta=1e-5)

    def test_at_eight_kilohertz_the_level_stands_and_distortion_names_the_rate_it_needs(self):
        # 2 kHz: the third harmonic would stand at 6 kHz.
        path = self.sox(
            "eight-kilohertz.wav", "-r", "8000", "-b", "24", "-c", "1",
            effect=("synth", "2", "sine", "2003", "vol", "0.5"),
        )  # fmt: skip
        document = self.unsound(path, "wrong_rate")
        self.assertAlmostEqual(value(document, "output_voltage"), 0.5 / 2**0.5, delta=1e-5)
        thd = figure(document, "thd")
        self.assertIsNone(thd["value"])
        self.assertNotIn("bound", thd)
        print(thd["unresolved"])
        self.assertRegex(thd["unresolved"], r"\d+(\.\d+)? ?k?Hz")

    def test_one_unreadable_file_does_not_hide_the_others(self):
        bad = self.path("note.wav")
        with open(bad, "w") as file:
            file.write("not a recording")
        zeros = self.path("zeros.wav")
        wave_file.write(zeros, np.zeros((48000, 2)), 48000)
        good = self.good()
        done = self.tone(good, bad, zeros, good)
        self.assertEqual(done.status, 65)
        self.assertEqual(len(done.documents), 4, done.documents)
        self.assertTrue(done.documents[0]["capture"]["sound"])
        self.assertFalse(done.documents[2]["capture"]["sound"])
        self.assertEqual(done.documents[3], done.documents[0])
        self.assertEqual(self.tone(good, zeros).status, 2)

    def test_headers_that_lie_are_refused_or_unsound_and_never_a_crash(self):
        with open(self.good(), "rb") as file:
            content = file.read()
        lies = {
            "no channels": (22, struct.pack("<H", 0)),
            "65535 channels": (22, struct.pack("<H", 65535)),
            "rate zero": (24, struct.pack("<I", 0)),
            "rate of four gigahertz": (24, struct.pack("<I", 0xFFFFFFFF)),
            "bits zero": (34, struct.pack("<H", 0)),
            "bits 4096": (34, struct.pack("<H", 4096)),
            "riff size": (4, struct.pack("<I", 0xFFFFFFFF)),
        }
        for name, (at, what) in lies.items():
            path = self.path(f"{name}.wav")
            with open(path, "wb") as file:
                file.write(content[:at] + what + content[at + len(what) :])
            done = self.tone(path)
            print(f"{name}: {done.status}")
            self.assertIn(done.status, (0, 2, 65), name)


if __name__ == "__main__":
    unittest.main()

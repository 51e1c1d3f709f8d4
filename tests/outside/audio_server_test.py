"""A tone played and recorded through a real audio server: PulseAudio with a null sink and its
monitor, `aplay` and `arecord` through ALSA's plugin for it. The server is started for the test, with
a socket and a state folder of its own, and ended with it.
"""

import math
import os
import subprocess
import tempfile
import time
import unittest

import numpy as np

import wave_file
from audio_server import RATE, AudioServer
from analyze import analyze, faults, value

TONE_HZ = 997
PEAK = 0.5  # of full scale
RECORD_S = 4

def analyzed(path):
    return analyze([path], "--signal", "tone", "--full-scale", "1V")


class RealAudioServer(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.addClassCleanup(cls.folder.cleanup)
        cls.played = os.path.join(cls.folder.name, "played.wav")
        cls.recorded = os.path.join(cls.folder.name, "recorded.wav")
        subprocess.run(
            ["sox", "-R", "-D", "-r", str(RATE), "-b", "24", "-c", "2", "-n", cls.played,
             "synth", str(RECORD_S + 3), "sine", str(TONE_HZ), "vol", str(PEAK)],
            check=True,
        )  # fmt: skip
        with AudioServer(cls.folder.name) as server:
            playing = server.play(cls.played)
            time.sleep(1.5)
            server.record(cls.recorded, RECORD_S)
            if playing.wait(30) != 0:
                raise RuntimeError("aplay failed")

    def compare_sample_by_sample(self):
        """Whether the recording was whole, told without afterload."""
        played, _ = wave_file.read(self.played)
        recorded, _ = wave_file.read(self.recorded)
        self.assertEqual(len(recorded), RECORD_S * RATE)
        start = min(
            range(0, len(played) - len(recorded)),
            key=lambda at: np.abs(played[at : at + 64, 0] - recorded[:64, 0]).max(),
        )
        difference = np.abs(played[start : start + len(recorded)] - recorded).max()
        print(f"largest difference {difference:.3g} of full scale")
        self.assertLess(difference, 1e-6)

    def test_a_tone_through_it_reads_its_level_and_no_gap(self):
        self.compare_sample_by_sample()
        done = analyzed(self.recorded)
        document = done.documents[0]
        self.assertEqual(done.status, 0, document)
        self.assertTrue(document["capture"]["sound"], document["capture"])
        self.assertEqual(document["capture"]["rate_hz"], RATE)
        for channel in (1, 2):
            volts = value(document, "output_voltage", channel)
            error_db = 20 * math.log10(volts / (PEAK / math.sqrt(2)))
            print(f"channel {channel}: {error_db:+.6f} dB")
            self.assertLess(abs(error_db), 0.01)

    def test_samples_cut_out_are_reported_as_a_gap(self):
        samples, rate = wave_file.read(self.recorded)
        at, lost = round(2.0 * rate), 100  # 2.08 periods
        cut = os.path.join(self.folder.name, "cut.wav")
        wave_file.write(cut, np.delete(samples, slice(at, at + lost), axis=0), rate, 32)
        done = analyzed(cut)
        document = done.documents[0]
        self.assertEqual(done.status, 2, document)
        self.assertFalse(document["capture"]["sound"])
        self.assertIn("gap", faults(document))
        gap = next(each for each in document["capture"]["faults"] if each["kind"] == "gap")
        print(f"gap at {gap['start_s']} s: {gap}")
        self.assertAlmostEqual(gap["start_s"], at / rate, delta=0.05)


if __name__ == "__main__":
    unittest.main()

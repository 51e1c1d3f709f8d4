"""The whole final verification through real ALSA, a real audio server and LADSPA plugins as the
amplifier, in real time; what it says beside what SciPy makes of the same recordings and beside the
plugin run by sox.
"""

import math
import os
import subprocess
import tempfile
import unittest

import numpy as np

import reference
import wave_file
from audio_server import RATE, AudioServer
from stand_in import LOW_PASS, ROOT, VALVE, amplifier, outcome, run

def decibels(ratio):
    return 20 * math.log10(ratio)


class SoundCard(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)

    def path(self, *names):
        return os.path.join(self.folder.name, *names)

    def recorded(self, run_folder, record):
        """Volts at the terminals, by sox and not by afterload."""
        whole = self.path("record.wav")
        subprocess.run(["sox", "-D", os.path.join(run_folder, record["path"]), "-b", "24", whole], check=True)
        samples, rate = wave_file.read(whole)
        self.assertEqual(rate, RATE)
        return samples * np.array(record["full_scale_v_peak"])

    def plugin_response(self, hertz):
        """The amplifier by itself, in dB: sox runs the plugins on a click too faint to be bent."""
        click = np.zeros((2 * RATE, 1))
        click[100] = 0.01
        wave_file.write(self.path("click.wav"), click, RATE, 24)
        subprocess.run(["sox", "-D", self.path("click.wav"), "-b", "32", "-e", "signed", self.path("answer.wav"),
                        "ladspa", *VALVE, "ladspa", *LOW_PASS], check=True,
                       env=dict(os.environ, LADSPA_PATH="/usr/lib/ladspa"))  # fmt: skip
        answer = subprocess.run(["sox", self.path("answer.wav"), "-t", "f64", "-"], check=True, capture_output=True)
        samples = np.frombuffer(answer.stdout, "<f8")
        t = np.arange(len(samples)) / RATE
        return 20 * np.log10(np.abs(np.exp(-2j * np.pi * np.outer(hertz, t)) @ samples) / 0.01)

    def test_final_verification_in_real_time_agrees_with_scipy(self):
        with AudioServer(self.folder.name) as server:
            amplifier(server)
            sequence = os.path.join(ROOT, "sequences/shipped/final-verification.sequence.yaml")
            child = run(self.folder.name, server, sequence)
            _, errors = child.communicate(timeout=400)
        run_folder, document = outcome(self.folder.name)
        self.assertEqual(document["state"], "done", document.get("stop_reason") or errors)
        # As read back from ALSA, both ways.
        self.assertRegex(document["bench"]["card"]["opened"], "plays .*48000.*; records .*48000")
        compared = 0
        worst = 0.0
        for step in document["steps"]:
            records = [each for each in step["records"] if each["driven"]["signal"] == "tone"]
            if len(step["records"]) != 1 or len(records) != 1:
                continue
            (record,) = records
            self.assertTrue(record["sound"], record["faults"])
            volts = self.recorded(run_folder, record)
            for figure in step["figures"]:
                kind, channel = figure["figure"], figure.get("channel")
                if figure.get("value") is None or kind not in ("thd", "thd_plus_noise", "output_voltage"):
                    continue
                samples = volts[:, channel - 1]
                nominal = record["driven"]["nominal_hz"]
                if kind == "thd":
                    expected = reference.thd(samples, RATE, nominal, figure["conditions"]["highest_order"])
                elif kind == "thd_plus_noise":
                    low, high = figure["conditions"]["bandwidth_hz"]
                    expected = reference.thd_plus_noise(samples, RATE, nominal, low, high)
                else:
                    expected = reference.tone(samples, RATE, nominal)[1] / math.sqrt(2)
                off = decibels(figure["value"] / expected)
                self.assertLess(abs(off), 0.05, f"{step['name']}: {kind} {figure['value']} and {expected}")
                worst = max(worst, abs(off))
                compared += 1
        self.assertGreaterEqual(compared, 12)
        print(f"{compared} figures, worst {worst:.4f} dB beside SciPy")
        points = 0
        worst = 0.0
        for step in document["steps"]:
            for figure in step["figures"]:
                if figure["figure"] != "frequency_response" or "curve" not in figure:
                    continue
                hertz = np.array(figure["curve"]["frequency_hz"])
                at = figure["conditions"]["reference_hz"]
                own = self.plugin_response(np.append(hertz, at))
                off = np.array(figure["curve"]["value"]) - (own[:-1] - own[-1])
                worst = max(worst, np.abs(off).max())
                self.assertLess(np.abs(off).max(), 0.05, f"{step['name']} at {hertz[np.abs(off).argmax()]} Hz")
                points += len(hertz)
        self.assertGreater(points, 20)
        print(f"{points} points of response, worst {worst:.4f} dB beside the plugin itself")


if __name__ == "__main__":
    unittest.main()

"""Bench time of the final verification, on the bench's own clock: recording and settling over the least
that the stated uncertainties ask for.

The least recording is the longest of what each figure of a record needs:
- its U may grow by a twentieth: noise falls as the root of the time, the rest of the budget stays;
- no harmonic up to the tenth within 1.2 / T of a mains line (what a window tells apart), two cycles of
  the tone at the least; tones of a multitone stand on multiples of 1 / T.
The least settling is what the unit's own low corner asks for, read from the response that was measured:
what was played before dies away as exp(-t / tau) until it is under the U of what is read. A tone that
plays on from level finding has settled there.
"""

import glob
import json
import math
import os
import subprocess
import tempfile
import unittest

from analyze import PROGRAM

ROOT = os.path.realpath(os.path.join(os.path.dirname(__file__), "..", ".."))
MAINS = 50.0
GROWTH = 1.05


def verified(folder):
    """The run document of a healthy unit's final verification."""
    done = subprocess.run(
        [PROGRAM, "run", os.path.join(ROOT, "sequences", "shipped", "final-verification.sequence.yaml"),
         "--unit", os.path.join(ROOT, "fixtures", "units", "hollinfay-h40.rating.yaml"),
         "--house", os.path.join(ROOT, "fixtures", "house.rating.yaml"),
         "--bench", os.path.join(ROOT, "fixtures", "benches", "north.bench.yaml"),
         "--serial", "40-0117", "--assume-prompts", "--runs", folder],
        capture_output=True, text=True, timeout=600,
    )  # fmt: skip
    found = glob.glob(os.path.join(folder, "*", "run.json"))
    if done.returncode != 0 or len(found) != 1:
        raise RuntimeError(f"status {done.returncode}, {found}\n{done.stdout}{done.stderr}")
    with open(found[0], encoding="utf-8") as file:
        return json.load(file)


def length_for_noise(figure, length):
    """Seconds until U is a twentieth larger than it was with `length`; 0 where noise has no part."""
    noise = sum(line["u_k1"] ** 2 for line in figure["budget"] if line["kind"] == "noise")
    rest = sum(line["u_k1"] ** 2 for line in figure["budget"] if line["kind"] != "noise")
    room = GROWTH**2 * (noise + rest) - rest
    return length * noise / room if noise > 0 else 0.0


def length_for_mains(frequency, top):
    least = 2.0 / frequency
    for order in range(1, 11):
        if order * frequency < top:
            off = abs(math.remainder(order * frequency, MAINS))
            least = max(least, 1.2 / off)
    return least


def low_corner(document):
    """Hz, of a first-order high pass that falls as far as the response does at its lowest tone."""
    fall, at = 0.0, 20.0
    for step in document["steps"]:
        for figure in step["figures"]:
            if figure["figure"] == "frequency_response" and figure.get("curve"):
                curve = figure["curve"]
                if curve["frequency_hz"][0] < 25 and curve["value"][0] < fall:
                    fall, at = curve["value"][0], curve["frequency_hz"][0]
    return at * math.sqrt(10 ** (-fall / 10) - 1)


class BenchTime(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        with tempfile.TemporaryDirectory() as folder:
            cls.document = verified(folder)

    def least(self, step, played_before):
        """Least recording and settling of a step, in seconds."""
        tau = 1 / (2 * math.pi * low_corner(self.document))
        recording = settling = 0.0
        records = [each for each in step["records"] if not each.get("supersedes")]
        whole = step["bench_time"]["recording_s"] / max(1, len(records))
        settled = step["bench_time"]["settling_s"] / max(1, len(records))
        for record in records:
            figures = [f for f in step["figures"] if f.get("record") == record["path"]]
            figures = figures or step["figures"]
            least = max([length_for_noise(f, whole) for f in figures if f.get("budget")], default=0.0)
            driven = record["driven"]
            if driven["signal"] == "tone":
                least = max(least, length_for_mains(driven["nominal_hz"], 0.45 * record["rate_hz"]))
            elif driven["signal"] == "multitone":
                least = max(least, driven["period_s"])
            recording += min(least, whole)
            if settled > 0:
                read = min([f["u_k2"] for f in figures if f.get("unit") == "V"], default=0.0)
                share = read / played_before if driven["silent"] else 1e-3
                settling += tau * math.log(1 / share) if share > 0 else 0.0
        return recording, min(settling, step["bench_time"]["settling_s"])

    def test_recording_and_settling_are_little_more_than_the_least(self):
        took = least = 0.0
        played = 17.9  # V rms: rated, what the loudest step before may have left
        for step in self.document["steps"]:
            time = step["bench_time"]
            recording, settling = self.least(step, played)
            print(f"{step['name']:<42} recording {time['recording_s']:6.2f} s, least {recording:6.2f} s; "
                  f"settling {time['settling_s']:5.2f} s, least {settling:5.2f} s")  # fmt: skip
            took += time["recording_s"] + time["settling_s"]
            least += recording + settling
        total = {key: sum(step["bench_time"][key] for step in self.document["steps"])
                 for key in self.document["steps"][0]["bench_time"]}  # fmt: skip
        print("; ".join(f"{key[:-2].replace('_', ' ')} {value:.1f} s" for key, value in total.items()))
        print(f"recording and settling {took:.1f} s over the least {least:.1f} s: {took / least:.2f}")
        self.assertLessEqual(took / least, 1.3)


if __name__ == "__main__":
    unittest.main()

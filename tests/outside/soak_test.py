"""A soak driven as a person would: its yes, its morning, a stop, a kill, and going on."""

import json
import os
import shutil
import signal
import subprocess
import tempfile
import time
import unittest

import jsonschema
import yaml
from analyze import PROGRAM

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")


def fixture(path):
    return os.path.join(ROOT, "fixtures", path)


class SoakOfAUnit(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp()
        self.runs = os.path.join(self.folder, "runs")
        self.addCleanup(shutil.rmtree, self.folder)

    def bench(self, *faults):
        with open(fixture("benches/north-48k.bench.yaml"), encoding="utf-8") as file:
            text = file.read()
        listed = "".join(f"    - {json.dumps(fault)}\n" for fault in faults)
        if listed:
            text = text.replace("  rig:\n", "  faults:\n" + listed + "  rig:\n", 1)
        path = os.path.join(self.folder, "own.bench.yaml")
        with open(path, "w", encoding="utf-8") as file:
            file.write(text.replace("rate: 48 kHz", "rate: 32 kHz"))
        return path

    def words(self, bench, minutes, *more):
        return [
            PROGRAM, "run", fixture("sequences/short-soak.sequence.yaml"),
            "--unit", fixture("units/hollinfay-h40.rating.yaml"), "--house", fixture("house.rating.yaml"),
            "--bench", bench, "--serial", "40-0117", "--runs", self.runs,
            "--set", f"duration={minutes} min", "--set", "every=1 min", *more,
        ]  # fmt: skip

    def run_folder(self):
        (name,) = [entry for entry in os.listdir(self.runs) if os.path.isdir(os.path.join(self.runs, entry))]
        return os.path.join(self.runs, name)

    def document(self):
        with open(os.path.join(self.run_folder(), "run.json"), encoding="utf-8") as file:
            document = json.load(file)
        with open(os.path.join(ROOT, "runner/papers/schemas/run.schema.json"), encoding="utf-8") as file:
            jsonschema.Draft202012Validator(json.load(file)).validate(document)
        return document

    def soak(self):
        (step,) = [step for step in self.document()["steps"] if "soak" in step]
        return step

    def journal(self):
        with open(os.path.join(self.run_folder(), "soak-2.ndjson"), encoding="utf-8") as file:
            return [json.loads(line) for line in file]

    def begun(self, bench, minutes):
        """A soak that has lasted some of its minutes."""
        child = subprocess.Popen(
            self.words(bench, minutes, "--assume-prompts", "--json"), stdout=subprocess.PIPE, stderr=subprocess.PIPE
        )
        self.addCleanup(child.wait)
        self.addCleanup(child.kill)
        self.addCleanup(child.stdout.close)
        self.addCleanup(child.stderr.close)
        for _ in range(1200):
            time.sleep(0.05)
            if os.path.isdir(self.runs):
                try:
                    if sum("minute_s" in line for line in self.journal()) >= 2:
                        return child
                except (FileNotFoundError, ValueError):
                    pass
        self.fail("no soak was seen to last")

    def test_its_morning_is_one_screen_that_says_it_ran(self):
        done = subprocess.run(
            self.words(self.bench(), 3, "--assume-prompts", "--stage", "soaked"),
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
        self.assertIn("Soak finished  Hollinfay H40, 40-0117", done.stdout)
        self.assertIn("3 min of 3 min at 1/8 rated each channel, sine, unattended.", done.stdout)
        self.assertLessEqual(len(done.stdout.splitlines()), 24)
        self.assertTrue(all(len(line) <= 80 for line in done.stdout.splitlines()))
        soak = self.soak()["soak"]
        self.assertEqual((soak["state"], soak["killed"]), ("finished", False))
        self.assertEqual(len(soak["segments"]), 1)
        self.assertTrue(soak["segments"][0]["consent"]["cautions"])
        with open(os.path.join(self.run_folder(), "report.html"), encoding="utf-8") as file:
            self.assertIn("Soak: Heat sink", file.read())

    def test_without_a_yes_nothing_is_driven(self):
        done = subprocess.run(
            self.words(self.bench(), 3), input="\nA. Reed\nyes 2 min\n", capture_output=True, text=True, check=False
        )
        self.assertEqual(done.returncode, 3, done.stdout + done.stderr)
        self.assertIn("Caution  An unattended unit needs its independent cut-out", done.stderr)
        self.assertEqual(self.document()["state"], "stopped")
        self.assertEqual(self.document()["steps"], [])

    def test_one_that_a_signal_ended_keeps_what_it_measured_and_a_person_goes_on_with_it(self):
        child = self.begun(self.bench(), 30)
        child.send_signal(signal.SIGTERM)
        self.assertEqual(child.wait(60), 3)
        before = self.soak()
        self.assertEqual(before["soak"]["state"], "stopped")
        self.assertGreaterEqual(before["soak"]["lasted_s"], 120.0)
        self.assertTrue(any(step.get("moment") == "start" for step in self.document()["steps"]))
        # Half an hour is long enough to be stopped; what is left of it is cut short the same way.
        child = subprocess.Popen(
            [PROGRAM, "continue", self.run_folder(), "--assume-prompts", "--json"],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip
        self.addCleanup(child.stdout.close)
        self.addCleanup(child.stderr.close)
        lasted = before["soak"]["lasted_s"]
        for _ in range(1200):
            time.sleep(0.05)
            if self.journal()[-1].get("minute_s", 0) > lasted + 60.0:
                break
        child.send_signal(signal.SIGTERM)
        self.assertEqual(child.wait(60), 3)
        after = self.soak()
        self.assertEqual([segment["end"] for segment in after["soak"]["segments"]], ["stopped", "stopped"])
        self.assertGreater(after["soak"]["lasted_s"], lasted + 60.0)
        self.assertEqual(after["soak"]["segments"][1]["from_s"], lasted)

    def test_one_that_was_killed_hard_is_interrupted_and_drives_again_only_when_told(self):
        child = self.begun(self.bench(), 30)
        child.kill()
        child.wait()
        listed = subprocess.run(
            [PROGRAM, "list", "--runs", self.runs, "--json"], capture_output=True, text=True, check=True
        )
        (line,) = json.loads(listed.stdout)["runs"]
        self.assertEqual(line["state"], "interrupted")
        soak = self.soak()["soak"]
        self.assertGreaterEqual(soak["lasted_s"], 120.0)
        self.assertTrue(soak["trends"])

    def test_after_everything_was_turned_off_a_person_enters_a_cause_first(self):
        fault = {"fault": "lost_card", "severity": 1.0, "begins": "40 s"}
        done = subprocess.run(
            self.words(self.bench(fault), 3, "--assume-prompts"), capture_output=True, text=True, check=False
        )
        self.assertEqual(done.returncode, 3, done.stdout + done.stderr)
        self.assertIn("TURNED OFF", done.stdout)
        self.assertIn("Do not switch on yet: enter a cause first.", done.stdout)
        again = subprocess.run(
            self.words(self.bench(), 3, "--assume-prompts"), capture_output=True, text=True, check=False
        )
        self.assertEqual(again.returncode, 65, again.stdout + again.stderr)
        self.assertIn("nobody has entered a cause", again.stderr)
        folder = self.run_folder()
        refused = subprocess.run(
            [PROGRAM, "continue", folder, "--assume-prompts"], capture_output=True, text=True, check=False
        )
        self.assertEqual(refused.returncode, 65)
        self.assertIn("find the cause and enter it first", refused.stderr)
        entered = subprocess.run(
            [PROGRAM, "cause", folder, "--because", "the lead of the card had come out", "--by", "A. Reed"],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        self.assertEqual(entered.returncode, 0, entered.stderr)
        self.assertEqual(self.soak()["soak"]["cause"], "the lead of the card had come out")

    def test_preconditioning_is_one_line_of_a_sequence(self):
        text = "afterload: sequence/1\ntitle: One line\nsteps:\n  - {name: preconditioning, soak: 1 h}\n"
        path = os.path.join(self.folder, "one.sequence.yaml")
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        self.assertEqual(yaml.safe_load(text)["steps"][0]["soak"], "1 h")
        done = subprocess.run([PROGRAM, "check", path], capture_output=True, text=True, check=False)
        self.assertEqual(done.returncode, 0, done.stderr)
        done = subprocess.run(
            [PROGRAM, "run", path, "--unit", fixture("units/hollinfay-h40.rating.yaml"),
             "--bench", self.bench(), "--plan", "--json"],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("soak: 1/8 rated, 1 h", done.stdout)


if __name__ == "__main__":
    unittest.main()

"""The record of runs: list, search and reindex over the folders that runs left behind."""

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import tempfile
import time
import unittest

from analyze import PROGRAM

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")


def fixture(path):
    return os.path.join(ROOT, "fixtures", path)


def run_words(runs, bench, serial):
    return [
        PROGRAM, "run", os.path.join(ROOT, "sequences/shipped/quick-check.sequence.yaml"),
        "--unit", fixture("units/hollinfay-h40.rating.yaml"), "--house", fixture("house.rating.yaml"),
        "--bench", fixture(bench), "--serial", serial, "--stage", "as_received", "--assume-prompts",
        "--runs", runs, "--json",
    ]  # fmt: skip


def ask(*words):
    done = subprocess.run([PROGRAM, *words], capture_output=True, text=True, check=False)
    return done.returncode, done.stdout, done.stderr


def listed(runs, *words):
    status, out, said = ask("list", "--runs", runs, "--json", *words)
    if status:
        raise AssertionError(said + out)
    return json.loads(out)["runs"]


class RunRecord(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp()
        self.runs = os.path.join(self.folder, "runs")
        self.addCleanup(shutil.rmtree, self.folder)

    def carry_out(self, bench, serial):
        done = subprocess.run(run_words(self.runs, bench, serial), capture_output=True, text=True, check=False)
        return json.loads(done.stdout)

    def test_it_finds_what_runs_left_and_the_index_is_made_again_from_the_folders(self):
        faulty = self.carry_out("benches/north-as-received.bench.yaml", "40-0117")
        self.carry_out("benches/north.bench.yaml", "40-0118")
        before = listed(self.runs)
        self.assertEqual([line["serial"] for line in before], ["40-0118", "40-0117"])
        line = listed(self.runs, "--serial", "40-0117")[0]
        self.assertEqual((line["id"], line["verdict"]), (faulty["id"], "fail"))
        failed = [
            figure
            for step in faulty["steps"]
            for figure in step["figures"]
            if figure.get("verdict") == "fail"
        ]
        self.assertEqual(len(line["failed"]), len(failed))
        status, out, _ = ask("search", line["failed"][0].split()[0].lower(), "--runs", self.runs)
        self.assertEqual(status, 0)
        self.assertIn("40-0117", out)
        self.assertNotIn("40-0118", out)
        for file in os.listdir(self.runs):
            if file.startswith("index.sqlite"):
                os.remove(os.path.join(self.runs, file))
        status, out, said = ask("reindex", "--runs", self.runs)
        self.assertEqual((status, said), (0, ""))
        self.assertEqual(out, "2 runs indexed, 0 folders could not be read\n")
        self.assertEqual(listed(self.runs), before)

    def test_a_run_that_was_killed_is_marked_interrupted_with_what_it_measured(self):
        child = subprocess.Popen(
            run_words(self.runs, "benches/north.bench.yaml", "40-0119"),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        document = None
        until = time.monotonic() + 120
        while time.monotonic() < until and child.poll() is None:
            for name in os.listdir(self.runs) if os.path.isdir(self.runs) else []:
                path = os.path.join(self.runs, name, "run.json")
                if os.path.exists(path):
                    with open(path, encoding="utf-8") as file:
                        document = json.load(file)
            if document and len(document["steps"]) >= 2:
                break
        # While it goes on, it is told as it is: nobody marks it.
        self.assertIsNone(child.poll())
        self.assertEqual(listed(self.runs)[0]["state"], "running")
        child.send_signal(signal.SIGKILL)
        child.wait()
        with open(os.path.join(self.runs, document["id"], "run.json"), encoding="utf-8") as file:
            last = json.load(file)
        line = listed(self.runs)[0]
        self.assertEqual(line["state"], "interrupted")
        with open(os.path.join(line["folder"], "run.json"), encoding="utf-8") as file:
            kept = json.load(file)
        self.assertEqual(kept["state"], "interrupted")
        self.assertEqual(kept["steps"], last["steps"])
        status, out, said = ask("show", line["folder"])
        self.assertEqual((status, said), (3, ""))
        self.assertIn("interrupted", out)

    def test_many_who_ask_at_once_are_all_answered(self):
        run = self.carry_out("benches/north.bench.yaml", "40-0121")
        askers = [
            subprocess.Popen(
                [PROGRAM, "list", "--json", "--runs", self.runs], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
            )
            for _ in range(12)
        ]
        for asker in askers:
            out, said = asker.communicate(timeout=60)
            self.assertEqual((asker.returncode, said), (0, ""))
            self.assertEqual([each["id"] for each in json.loads(out)["runs"]], [run["id"]])

    def test_a_folder_that_cannot_be_read_is_named_and_left_alone(self):
        run = self.carry_out("benches/north.bench.yaml", "40-0120")
        torn = os.path.join(self.runs, "torn")
        shutil.copytree(os.path.join(self.runs, run["id"]), torn)
        path = os.path.join(torn, "run.json")
        with open(path, encoding="utf-8") as file:
            half = file.read()[:5000]
        with open(path, "w", encoding="utf-8") as file:
            file.write(half)
        status, out, said = ask("reindex", "--runs", self.runs)
        self.assertEqual(status, 0)
        self.assertEqual(out, "1 run indexed, 1 folder could not be read\n")
        self.assertIn("torn/run.json", said)
        with open(path, encoding="utf-8") as file:
            self.assertEqual(file.read(), half)

    def test_another_programs_database_is_refused_and_not_changed(self):
        os.mkdir(self.runs)
        path = os.path.join(self.runs, "index.sqlite")
        with sqlite3.connect(path) as other:
            other.execute("CREATE TABLE till (sum REAL)")
        other.close()
        status, _, said = ask("list", "--runs", self.runs)
        self.assertEqual(status, 73)
        self.assertIn("is another program's database", said)
        with sqlite3.connect(path) as other:
            tables = [name for (name,) in other.execute("SELECT name FROM sqlite_schema")]
        other.close()
        self.assertEqual(tables, ["till"])

    def test_a_damaged_index_says_that_the_folders_are_the_truth(self):
        os.mkdir(self.runs)
        ask("list", "--runs", self.runs)
        path = os.path.join(self.runs, "index.sqlite")
        with open(path, "r+b") as file:
            file.seek(100)
            file.write(b"\xff" * 3000)
        status, _, said = ask("list", "--runs", self.runs)
        self.assertEqual(status, 73)
        self.assertIn("reindex", said)

    def test_a_folder_that_is_not_there_says_which_option_to_use(self):
        status, _, said = ask("list", "--runs", os.path.join(self.folder, "nowhere"))
        self.assertEqual(status, 66)
        self.assertIn("--runs", said)


if __name__ == "__main__":
    unittest.main()

"""A soak that afterloadd carries out: its yes from any terminal, the sound it plays within the request."""

import base64
import json
import os
import tempfile
import unittest

import numpy as np
import wave_file
from daemon import Daemon, OverSocket, fixture, submission, text_of

RATE = 32000
SOAK = text_of(fixture("sequences/short-soak.sequence.yaml"))
PLAYS_A_FILE = SOAK.replace("      signal: ${signal}\n", "      signal: file\n      file: loop.wav\n")


def music(seconds=2.0):
    """Noise of two channels under a slow swell: not a tone, nowhere silent."""
    drawn = np.random.default_rng(7).standard_normal((int(seconds * RATE), 2))
    swell = 1.0 + 0.5 * np.sin(2.0 * np.pi * np.arange(len(drawn)) / len(drawn))
    return 0.2 * np.clip(drawn, -3.0, 3.0) * swell[:, np.newaxis] / 1.5


class SoakAtTheDaemon(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)
        bench = self.path("own.bench.yaml")
        with open(bench, "w", encoding="utf-8") as file:
            file.write(text_of(fixture("benches/north-48k.bench.yaml")).replace("rate: 48 kHz", "rate: 32 kHz"))
        self.daemon = Daemon(bench=bench)
        self.addCleanup(self.daemon.clear)
        self.daemon.start()

    def path(self, name):
        return os.path.join(self.folder.name, name)

    def loop(self, samples, name="loop.wav"):
        wave_file.write(self.path(name), samples, RATE, 16)
        return self.path(name)

    def submit(self, sequence, sound=None, name="loop.wav", **more):
        document = submission(sequence=sequence, set={"duration": "2 min", "every": "1 min"}, **more)
        if sound is not None:
            document["files"].append(
                {"role": "stimulus", "path": name, "base64": base64.b64encode(sound).decode("ascii")}
            )
        return self.daemon.ask("POST", "/v1/queue", document)

    def run_that_plays(self, *more):
        """The command line hands a sequence over that plays loop.wav beside it."""
        sequence = self.path("own.sequence.yaml")
        with open(sequence, "w", encoding="utf-8") as file:
            file.write(PLAYS_A_FILE)
        return self.daemon.command(
            "run", sequence, "--unit", fixture("units/hollinfay-h40.rating.yaml"),
            "--house", fixture("house.rating.yaml"), "--serial", "40-0117", "--assume-prompts", *more,
        )  # fmt: skip

    def soak_of(self, entry):
        document = self.daemon.ask("GET", "/v1/runs/" + entry["run"])[1]
        (soak,) = [step["soak"] for step in document["steps"] if "soak" in step]
        return soak

    def answered(self, text):
        said = self.daemon.command("answer", "--text", text)
        self.assertEqual(said.returncode, 0, said.stderr)

    def asked(self, words):
        return self.daemon.until(lambda state: state["prompt"] and words in state["prompt"]["text"])["prompt"]

    def test_it_asks_at_its_start_and_goes_on_a_yes_from_another_terminal(self):
        entry = self.submit(SOAK, assume_prompts=False)[1]
        prompt = self.asked("Who can be reached")
        self.assertIn("Caution  An unattended unit needs its independent cut-out", prompt["text"])
        self.answered("Ada, 555 0100")
        self.asked('Type "yes 2 min" to begin')
        self.answered("yes 2 min")
        self.asked("Controls for the soak")
        self.assertEqual(self.daemon.command("answer", "done").returncode, 0)
        over = self.daemon.until_over(entry["id"])
        self.assertEqual((over["state"], over["exit_status"]), ("done", 0), over)
        soak = self.soak_of(over)
        self.assertEqual(soak["state"], "finished")
        self.assertEqual(soak["segments"][0]["consent"]["reachable"], "Ada, 555 0100")

    def test_without_the_whole_yes_nothing_is_driven(self):
        entry = self.submit(SOAK, assume_prompts=False)[1]
        self.asked("Who can be reached")
        self.answered("Ada, 555 0100")
        self.asked("to begin")
        self.answered("yes")
        over = self.daemon.until_over(entry["id"])
        self.assertEqual((over["verdict"], over["exit_status"]), ("stopped", 3), over)
        self.assertIn("nobody said yes", over["why"])

    def test_a_file_travels_with_the_run_and_is_played(self):
        loop = self.loop(music())
        done = self.run_that_plays("--set", "duration=2 min", "--set", "every=1 min", "--stage", "soaked", "--json")
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
        document = json.loads(done.stdout)
        (stored,) = [file for file in document["files"] if file["role"] == "stimulus"]
        with open(os.path.join(self.daemon.runs, document["id"], stored["path"]), "rb") as kept:
            with open(loop, "rb") as played:
                self.assertEqual(kept.read(), played.read())
        (step,) = [step for step in document["steps"] if "soak" in step]
        self.assertEqual((step["soak"]["state"], step["events"]), ("finished", []))

    def test_a_file_that_cannot_be_played_is_refused_before_it_is_queued(self):
        status, problem = self.submit(PLAYS_A_FILE)
        self.assertEqual(status, 422)
        self.assertIn("did not come with the run", problem["title"])
        self.loop(music(), "loop.wav")
        with open(self.path("loop.wav"), "rb") as file:
            whole = file.read()
        for sound, words in [(whole[:400], "it lasts"), (b"no sound", "is not a sound file")]:
            status, problem = self.submit(PLAYS_A_FILE, sound)
            self.assertEqual(status, 422, problem)
            self.assertIn(words, problem["title"])
        self.loop(np.zeros((2 * RATE, 2)))
        with open(self.path("loop.wav"), "rb") as file:
            self.assertIn("silent", self.submit(PLAYS_A_FILE, file.read())[1]["title"])
        document = submission(sequence=PLAYS_A_FILE)
        document["files"].append({"role": "stimulus", "path": "loop.wav", "base64": "no base64!"})
        self.assertIn("no base64", self.daemon.ask("POST", "/v1/queue", document)[1]["title"])

    def test_one_that_is_too_long_is_refused_before_it_is_read(self):
        status, _, answer = self.daemon.raw("POST", "/v1/queue", b"x", {"Content-Length": str(40 << 20)})
        self.assertEqual((status, b"over 6 MiB" in answer), (413, True))
        status, _, answer = self.daemon.raw("POST", "/v1/notes", b"x", {"Content-Length": str(8 << 20)})
        self.assertEqual((status, b"over 6 MiB" in answer), (413, True))
        with open(self.path("loop.wav"), "wb") as file:
            file.truncate(17 << 20)
        said = self.run_that_plays()
        self.assertEqual(said.returncode, 65)
        self.assertIn("takes sound files up to 16 MiB", said.stderr)

    def test_one_long_request_is_taken_in_at_a_time(self):
        first = OverSocket(self.daemon.socket)
        self.addCleanup(first.close)
        first.putrequest("POST", "/v1/queue")
        first.putheader("Content-Type", "application/json")
        first.putheader("Content-Length", str(20 << 20))
        first.endheaders(b"{")
        self.daemon.ask("GET", "/v1/health")
        status, _, answer = self.daemon.raw("POST", "/v1/queue", b"x", {"Content-Length": str(20 << 20)})
        self.assertEqual((status, b"come again" in answer), (503, True))


if __name__ == "__main__":
    unittest.main()

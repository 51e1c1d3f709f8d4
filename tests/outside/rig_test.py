"""Calibration and rig check from the command line: on a simulated bench with errors that nobody told
it, and through a real audio server whose volume somebody turns afterwards.
"""

import json
import os
import re
import shutil
import subprocess
import tempfile
import time
import unittest

from analyze import PROGRAM
from audio_server import AudioServer
from stand_in import BENCH, ROOT

UNCALIBRATED = os.path.join(ROOT, "fixtures/benches/uncalibrated.bench.yaml")

QUIET = """afterload: sequence/1
title: Quiet
steps:
  - {name: quiet, input: line, output: speaker_a, signal: silence, record: 0.5 s, figures: [noise_voltage]}
"""


class Rig(unittest.TestCase):
    def setUp(self):
        kept = tempfile.TemporaryDirectory()
        self.addCleanup(kept.cleanup)
        self.folder = kept.name
        self.bench = os.path.join(self.folder, "shop.bench.yaml")
        self.rig = os.path.join(self.folder, "shop.rig.yaml")

    def afterload(self, *words, answers="", environment=None):
        return subprocess.run([PROGRAM, *words], input=answers, capture_output=True, text=True, timeout=300,
                              env=environment)  # fmt: skip

    def rig_text(self):
        with open(self.rig, encoding="utf-8") as file:
            return file.read()

    def run_quick(self, environment=None, more=("--assume-prompts",), answers="",
                  sequence="sequences/shipped/quick-check.sequence.yaml"):  # fmt: skip
        return self.afterload("run", os.path.join(ROOT, sequence), "--unit",
                              os.path.join(ROOT, "fixtures/units/hollinfay-h40.rating.yaml"), "--house",
                              os.path.join(ROOT, "fixtures/house.rating.yaml"), "--bench", self.bench, "--runs",
                              os.path.join(self.folder, "runs"), *more, environment=environment,
                              answers=answers)  # fmt: skip

    def change(self, was, now):
        with open(self.bench, encoding="utf-8") as file:
            text = file.read()
        self.assertIn(was, text)
        with open(self.bench, "w", encoding="utf-8") as file:
            file.write(text.replace(was, now))


class SimulatedRig(Rig):
    def setUp(self):
        super().setUp()
        shutil.copy(UNCALIBRATED, self.bench)

    def test_calibrate_check_and_run_in_a_row(self):
        done = self.afterload("calibrate", self.bench, "--meter", "shop meter", "--meter-uncertainty", "0.5 %")
        self.assertEqual(done.returncode, 0, done.stderr)
        # The bench plays and reads 2 % off; the meter, of 0.5 %, says so within 1 % (k = 2).
        full_scale = float(re.search(r"source_full_scale: ([0-9.]+) V", self.rig_text()).group(1))
        self.assertAlmostEqual(full_scale / (1.02 * 2), 1, delta=0.01)
        for name, stated in (("high", 50), ("middle", 14), ("low", 4.5)):
            found = float(re.search(name + r'", full_scale: ([0-9.]+) V peak', self.rig_text()).group(1))
            self.assertAlmostEqual(found / (1.02 * stated), 1, delta=0.01)
        done = self.afterload("rig-check", self.bench)
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
        self.assertIn("can today resolve", done.stdout)
        self.assertIn("own_distortion", self.rig_text())
        done = self.afterload("check", self.bench, self.rig)
        self.assertEqual(done.returncode, 0, done.stderr)
        done = self.run_quick()
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
        (name,) = os.listdir(os.path.join(self.folder, "runs"))
        with open(os.path.join(self.folder, "runs", name, "run.json"), encoding="utf-8") as file:
            document = json.load(file)
        self.assertIn("rig", [each["role"] for each in document["files"]])
        self.assertEqual(document["bench"]["source"]["full_scale_v"], full_scale)
        done = self.afterload("replay", os.path.join(self.folder, "runs", name))
        self.assertEqual(done.returncode, 0, done.stdout)

    def test_a_source_that_moved_after_calibration_is_found_and_nothing_is_written(self):
        self.assertEqual(self.afterload("calibrate", self.bench).returncode, 0)
        before = self.rig_text()
        self.change("source_error: 2 %", "source_error: 4 %")
        done = self.afterload("rig-check", self.bench)
        self.assertEqual(done.returncode, 1, done.stdout)
        self.assertIn("STOP  range high, left: the loop reads +0.17 dB off the calibration", done.stdout)
        self.assertEqual(self.rig_text(), before)

    def test_a_rig_file_of_another_bench_is_refused(self):
        self.assertEqual(self.afterload("calibrate", self.bench).returncode, 0)
        self.change("name: uncalibrated", "name: another")
        done = self.run_quick()
        self.assertEqual(done.returncode, 65, done.stdout)
        self.assertIn("it is of the bench “uncalibrated”", done.stderr)

    def test_an_old_rig_check_is_noted_on_the_run(self):
        self.assertEqual(self.afterload("calibrate", self.bench).returncode, 0)
        self.assertEqual(self.afterload("rig-check", self.bench).returncode, 0)
        text = re.sub(r'(check:\n  made: ")[^"]+', r"\g<1>2026-01-01T10:00:00.000Z", self.rig_text())
        with open(self.rig, "w", encoding="utf-8") as file:
            file.write(text)
        self.run_quick()
        (name,) = os.listdir(os.path.join(self.folder, "runs"))
        with open(os.path.join(self.folder, "runs", name, "run.json"), encoding="utf-8") as file:
            notes = json.load(file)["notes"]
        self.assertTrue(any("rig check is" in note and "h old" in note for note in notes), notes)

    def test_without_a_loop_it_says_what_to_do(self):
        self.change("loop: switched", "loop: none")
        done = self.afterload("calibrate", self.bench)
        self.assertEqual(done.returncode, 3)
        self.assertIn("loop: by_hand", done.stderr)
        self.assertFalse(os.path.exists(self.rig))


class CardRig(Rig):
    def setUp(self):
        super().setUp()
        text = BENCH.replace("device: bench_card", "device: bench_loop")
        # What a server plays at full scale its monitor gives back as full scale.
        text = text.replace("full_scale: 0.8 V", "full_scale: 2 V").replace("134.4 V peak", "2.8284 V peak")
        text = text.replace("largest_drive: 0.8 V", "largest_drive: 2 V") + "loop: by_hand\n"
        with open(self.bench, "w", encoding="utf-8") as file:
            file.write(text)

    def test_a_volume_that_was_turned_after_calibration_stops_check_and_run(self):
        with AudioServer(self.folder) as server:
            # Meter on the outputs, two readings, the loop made and parted, meter on the loads, two readings.
            answers = "\n1.000 V\n1.000 V\n" + 3 * "\n" + "7.95\n7.97 ohm\n"
            done = self.afterload("calibrate", self.bench, answers=answers, environment=server.environment)
            self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
            self.assertIn("Master Playback Volume", self.rig_text())
            full_scale = float(re.search(r"source_full_scale: ([0-9.]+) V", self.rig_text()).group(1))
            self.assertAlmostEqual(full_scale, 2, delta=0.002)
            found = float(re.search(r"full_scale: ([0-9.]+) V peak", self.rig_text()).group(1))
            self.assertAlmostEqual(found, 2.8284, delta=0.003)
            self.assertIn("{channel: left, resistance: 7.95 ohm, uncertainty: 0.5 %}", self.rig_text())
            self.assertIn("{channel: right, resistance: 7.97 ohm, uncertainty: 0.5 %}", self.rig_text())
            server.pactl("set-sink-volume", "bench", "80%")
            done = self.afterload("rig-check", self.bench, answers=5 * "\n", environment=server.environment)
            self.assertEqual(done.returncode, 1, done.stdout + done.stderr)
            self.assertIn("Master Playback Volume was", done.stdout.replace("the mixer's ", ""))
            # 80 % of the server's cubic scale is 60 lg 0.8 = -5.81 dB.
            self.assertRegex(done.stdout, r"the loop reads -5\.8[0-9]? ?[0-9]*")
            quiet = os.path.join(self.folder, "quiet.sequence.yaml")
            with open(quiet, "w", encoding="utf-8") as file:
                file.write(QUIET)
            done = self.run_quick(environment=server.environment, more=(), answers=50 * "\n", sequence=quiet)
            self.assertEqual(done.returncode, 69, done.stdout + done.stderr)
            self.assertIn("set it back, or calibrate anew", done.stderr)
            self.assertFalse(os.path.exists(os.path.join(self.folder, "runs")))

    def test_a_server_that_resamples_to_a_lower_rate_is_named(self):
        self.change("device: bench_loop", "device: bench_slow")
        with AudioServer(self.folder) as server:
            server.pactl("load-module", "module-null-sink", "sink_name=slow", "rate=44100", "format=s32le",
                         "channels=2")  # fmt: skip
            # Another program that plays 44.1 kHz keeps the server from changing the rate.
            with open("/dev/zero", "rb") as zero:
                other = subprocess.Popen(["pacat", "--playback", "--device=slow", "--rate=44100", "--format=s16le"],
                                         stdin=zero, env=server.environment)  # fmt: skip
            self.addCleanup(other.wait)
            self.addCleanup(other.kill)
            time.sleep(1)
            done = self.afterload("rig-check", self.bench, answers=5 * "\n", environment=server.environment)
            self.assertEqual(done.returncode, 1, done.stdout + done.stderr)
            self.assertIn("23.0 kHz do not come back at a rate of 48 kHz", done.stdout)
            self.assertIn("something on the way resamples", " ".join(done.stdout.split()))

    def test_a_server_that_resamples_to_a_higher_rate_is_named(self):
        self.change("rate: 48 kHz", "rate: 44.1 kHz")
        with AudioServer(self.folder) as server:
            done = self.afterload("rig-check", self.bench, answers=5 * "\n", environment=server.environment)
            self.assertEqual(done.returncode, 1, done.stdout + done.stderr)
            self.assertIn("21.2 kHz do not come back at a rate of 44.1 kHz", done.stdout)
            self.assertIn("something on the way resamples", " ".join(done.stdout.split()))

    def test_a_new_bench_is_asked_for_in_words_and_accepted(self):
        fresh = os.path.join(self.folder, "fresh.bench.yaml")
        with AudioServer(self.folder) as server:
            answers = ["north", "2 volts", "2.1 V", "100 ohm", "high", "50 V peak", "60 V peak", "yes", "low",
                       "5 V peak", "60 V peak", "no", "8.02 ohm", "100 W", "7.98 ohm", "100 W", "2 V", "50 W", "no",
                       "thermal switch on the heat sink"]  # fmt: skip
            done = self.afterload("new", "bench", fresh, "--device", "bench_loop", answers="\n".join(answers) + "\n",
                                  environment=server.environment)  # fmt: skip
            self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
            # An answer that is none is asked for again, with why.
            self.assertIn("volts", done.stderr.split("full scale")[1])
            self.assertEqual(self.afterload("check", fresh).returncode, 0)
            with open(fresh, encoding="utf-8") as file:
                text = file.read()
            for part in ("name: north", "stand_in: true", "full_scale: 2.1 V", "name: low", "resistance: 7.98 ohm",
                         "switched: by_hand", "cut_out: thermal switch on the heat sink"):  # fmt: skip
                self.assertIn(part, text)
            again = self.afterload("new", "bench", fresh, "--device", "bench_loop", environment=server.environment)
            self.assertEqual(again.returncode, 73)
            self.assertIn("nothing was overwritten", again.stderr)
            ended = self.afterload("new", "bench", fresh + "2", "--device", "bench_loop", answers="north\n",
                                   environment=server.environment)  # fmt: skip
            self.assertEqual(ended.returncode, 3)
            self.assertFalse(os.path.exists(fresh + "2"))


if __name__ == "__main__":
    unittest.main()

"""The shop's memory: what the units of a model read, what the rig drifted meanwhile, a unit that comes back,
and the words that were written of it.
"""

import copy
import fcntl
import json
import os
import random
import shutil
import sqlite3
import statistics
import tempfile
import unittest

from many_runs import document_of, figures, moved, stamp, with_verdicts, write_run
from shared_runs import ask, mended, received

JOB = """afterload: job/1
ticket: "{ticket}"
complaint: distorted when quiet
cause: {cause}
work: [bias set anew]
parts:
  - {{position: R712, part: 470 ohm trimmer, reason: open track}}
"""


def told(*words):
    status, out, said = ask(*words, "--json")
    if status:
        raise AssertionError(out + said)
    return json.loads(out)


def row_of(document, label, channel):
    found = [row for row in document["figures"] if row["label"] == label and row["channel"] == channel]
    if len(found) != 1:
        raise AssertionError(f"{len(found)} rows {label} of channel {channel}")
    return found[0]


class Shop(unittest.TestCase):
    """A folder of runs to fill."""

    def setUp(self):
        self.runs = tempfile.mkdtemp()
        self.addCleanup(shutil.rmtree, self.runs)
        self.sound = with_verdicts(document_of(mended()), lambda figure: False)


class ModelStatistics(Shop):
    def shop(self, gains, golden=(), drift=lambda day: 0.0):
        """A unit a week with these gains on the left, and a golden box now and then."""
        for week, gain in enumerate(gains):
            day = 7 * week
            run = moved(copy.deepcopy(self.sound), "gain", lambda _: gain + drift(day), channel=1)
            write_run(self.runs, run, f"u{week:03}", f"U{week:03}", stamp(day))
        for number, day in enumerate(golden):
            run = moved(copy.deepcopy(self.sound), "gain", lambda _: 20.0 + drift(day), channel=1)
            run["unit"].update(maker="", model="golden box")
            write_run(self.runs, run, f"g{number:03}", "GB-1", stamp(day))

    def test_middle_and_quartiles_are_those_of_another_reckoning(self):
        draw = random.Random(7)
        gains = [draw.gauss(41.5, 0.2) for _ in range(41)]
        self.shop(gains)
        found = told("statistics", "H40", "--runs", self.runs)
        self.assertEqual((found["units"], found["runs"]), (41, 41))
        row = row_of(found, "gain 1 kHz", 1)
        low, middle, high = statistics.quantiles(gains, n=4, method="inclusive")
        self.assertAlmostEqual(row["median"]["value"], middle, places=12)
        self.assertAlmostEqual(row["lower_quartile"]["value"], low, places=12)
        self.assertAlmostEqual(row["upper_quartile"]["value"], high, places=12)
        self.assertEqual((row["least"], row["greatest"]), (min(gains), max(gains)))

    def test_a_unit_is_placed_among_the_others_and_one_unlike_them_is_named(self):
        self.shop([41.0 + 0.01 * i for i in range(20)] + [43.0])
        found = told("statistics", "h40", "--serial", "U020", "--runs", self.runs)
        row = row_of(found, "gain 1 kHz", 1)
        self.assertEqual((row["others"], row["this_unit"]["percentile"]), (20, 100.0))
        self.assertTrue(row["this_unit"]["stands_out"])
        self.assertEqual([r["label"] for r in found["figures"] if r["this_unit"]["stands_out"]], ["gain 1 kHz"])
        row = row_of(told("statistics", "H40", "--serial", "U005", "--runs", self.runs), "gain 1 kHz", 1)
        self.assertEqual((row["this_unit"]["percentile"], row["this_unit"]["stands_out"]), (25.0, False))
        status, out, _ = ask("statistics", "H40", "--serial", "U020", "--runs", self.runs)
        self.assertEqual(status, 0)
        self.assertIn("U020 is not as the others are: gain 1 kHz, left.", out)
        self.assertLessEqual(max(map(len, out.splitlines())), 80)

    def test_of_few_units_a_rank_is_given_and_no_per_cent(self):
        self.shop([41.0, 41.1, 41.2])
        row = row_of(told("statistics", "H40", "--serial", "U002", "--runs", self.runs), "gain 1 kHz", 1)
        self.assertEqual((row["this_unit"]["below"], row["this_unit"]["percentile"]), (2.0, None))
        out = ask("statistics", "H40", "--serial", "U002", "--runs", self.runs)[1]
        self.assertIn("2 of 2", out)
        self.assertIn("too few to say what is usual", out)

    def test_each_unit_counts_once_by_its_last_reading_and_not_as_it_came_in(self):
        self.shop([41.0, 41.1])
        again = moved(copy.deepcopy(self.sound), "gain", lambda _: 42.0, channel=1)
        write_run(self.runs, again, "later", "U000", stamp(400))
        faulty = moved(copy.deepcopy(self.sound), "gain", lambda _: 10.0, channel=1)
        write_run(self.runs, faulty, "faulty", "U001", stamp(500), stage="as_received")
        row = row_of(told("statistics", "H40", "--runs", self.runs), "gain 1 kHz", 1)
        self.assertEqual((row["others"], row["least"], row["greatest"]), (2, 41.1, 42.0))

    def test_what_the_rig_drifted_is_taken_off_by_its_golden_box_and_only_where_it_scales(self):
        draw = random.Random(11)
        gains = [draw.gauss(41.5, 0.02) for _ in range(52)]

        def drift(day):
            return 0.4 * day / 364.0

        self.shop(gains, golden=range(0, 372, 14), drift=drift)
        plain = row_of(told("statistics", "H40", "--runs", self.runs), "gain 1 kHz", 1)
        freed = told("statistics", "H40", "--golden", "GB-1", "--runs", self.runs)
        row = row_of(freed, "gain 1 kHz", 1)
        self.assertEqual((freed["golden_runs"], row["rig"]["golden_readings"]), (27, 27))

        def spread(one):
            return one["upper_quartile"]["value"] - one["lower_quartile"]["value"]

        low, _, high = statistics.quantiles(gains, n=4, method="inclusive")
        self.assertAlmostEqual(spread(row), high - low, places=9)
        self.assertGreater(spread(plain), 5 * spread(row))
        self.assertAlmostEqual(row["rig"]["quartile_distance_as_read"], spread(plain), places=9)
        self.assertAlmostEqual(row["rig"]["drift"], drift(364) - drift(0), places=9)
        thd = row_of(freed, "THD 1 W, 6 kHz", 1)
        self.assertGreater(thd["rig"]["golden_readings"], 0)
        self.assertFalse(thd["rig"]["taken_off"])

    def test_a_model_that_nobody_brought_is_said_to_be_none(self):
        self.shop([41.0])
        status, _, said = ask("statistics", "S60", "--runs", self.runs)
        self.assertEqual(status, 66)
        self.assertIn("no run of a “S60”", said)


class UnitHistory(Shop):
    def repair(self, day, ticket, failed, serial="40-0117", cause=None, swap=False, path=None):
        """As received and, two days later, repaired; both under one ticket."""
        bad = with_verdicts(document_of(received()), failed)
        for figure in figures(bad):
            if swap and figure.get("channel") in (1, 2):
                figure["channel"] = 3 - figure["channel"]
        if path is not None:
            for step in bad["steps"]:
                step["group"] = path
        words = None if cause is None else JOB.format(ticket=ticket, cause=cause)
        write_run(self.runs, bad, f"{serial}-{ticket}-in", serial, stamp(day), "as_received", ticket)
        write_run(self.runs, self.sound, f"{serial}-{ticket}-out", serial, stamp(day + 2), "repaired", ticket, words)

    @staticmethod
    def thd_left(figure):
        return figure["figure"] == "thd" and figure["channel"] == 1

    def asked(self, serial="40-0117"):
        return told("history", serial, "--runs", self.runs)

    def test_the_same_figure_channel_and_path_is_the_same_fault_with_what_was_written_then(self):
        self.repair(0, "31", self.thd_left, cause="bias trimmer with an open track")
        self.repair(400, "77", self.thd_left)
        found = self.asked()
        (fault,) = found["faults"]
        self.assertEqual((fault["figure"], fault["channel"], fault["recurrence"]), ("thd", 1, "same"))
        self.assertEqual((fault["earlier"]["job"], fault["passed"]), ("31", stamp(2)))
        self.assertIn("cause: bias trimmer with an open track", found["written"][0]["words"])
        out = ask("history", "40-0117", "--runs", self.runs)[1]
        self.assertRegex(out, r"THD, left \(\d\) +Direct path +the same: 2020-01-01, ticket 31")
        self.assertIn("bias trimmer with an open track", out)

    def test_another_channel_and_another_path_are_told_apart(self):
        self.repair(0, "31", self.thd_left)
        self.repair(400, "77", self.thd_left, swap=True)
        (fault,) = self.asked()["faults"]
        self.assertEqual((fault["channel"], fault["recurrence"], fault["earlier"]["channel"]), (2, "other_channel", 1))
        shutil.rmtree(os.path.join(self.runs, "40-0117-77-in"))
        shutil.rmtree(os.path.join(self.runs, "40-0117-77-out"))
        ask("reindex", "--runs", self.runs)
        self.repair(400, "78", self.thd_left, path="Tone path")
        (fault,) = self.asked()["faults"]
        self.assertEqual((fault["path"], fault["recurrence"]), ("Tone path", "other_path"))
        self.assertEqual(fault["earlier"]["path"], "Direct path")

    def test_a_new_fault_is_new_and_what_is_gone_is_said(self):
        self.repair(0, "31", self.thd_left)
        self.repair(400, "77", lambda figure: figure["figure"] == "hum_voltage" and figure["channel"] == 2)
        found = self.asked()
        (fault,) = found["faults"]
        self.assertEqual((fault["figure"], fault["recurrence"]), ("hum_voltage", "first"))
        self.assertEqual(fault["passed"], stamp(2))
        self.assertEqual([gone["figure"] for gone in found["only_earlier"]], ["thd"])

    def test_other_units_with_the_fault_are_named_with_their_cause(self):
        self.repair(0, "12", self.thd_left, serial="40-0099", cause="dry joint at the driver")
        self.repair(400, "77", self.thd_left)
        (other,) = self.asked()["elsewhere"]
        self.assertEqual((other["serial"], other["job"]), ("40-0099", "12"))
        self.assertIn("cause: dry joint at the driver", other["words"])

    def test_it_fits_one_screen_however_much_there_is(self):
        for number in range(30):
            self.repair(30 * number, f"J{number}", lambda figure: True, cause=f"cause {number}, " + "long " * 40)
            self.repair(30 * number, f"K{number}", lambda figure: True, serial=f"U{number}", cause="other")
        status, out, said = ask("history", "40-0117", "--runs", self.runs)
        self.assertEqual((status, said), (0, ""))
        self.assertLessEqual(len(out.splitlines()), 24)
        self.assertLessEqual(max(map(len, out.splitlines())), 80)
        self.assertIn("and", out)
        self.assertGreater(len(self.asked()["faults"]), 6)

    def test_runs_are_found_by_what_was_written_what_failed_and_when(self):
        self.repair(0, "31", self.thd_left, cause="bias trimmer with an open track")
        self.repair(400, "77", lambda figure: figure["figure"] == "hum_voltage")

        def found(*words):
            return sorted(run["id"] for run in told("list", "--runs", self.runs, *words)["runs"])

        self.assertEqual(found("--said", "OPEN TRACK"), ["40-0117-31-out"])
        self.assertEqual(found("--failed", "thd"), ["40-0117-31-in"])
        self.assertEqual(found("--failed", "hum"), ["40-0117-77-in"])
        self.assertEqual(found("--stage", "as_received"), ["40-0117-31-in", "40-0117-77-in"])
        self.assertEqual(found("--until", "2020-01-01"), ["40-0117-31-in"])
        self.assertEqual(found("--until", "2020", "--verdict", "pass"), ["40-0117-31-out"])
        found_by_text = [run["id"] for run in told("search", "R712", "--runs", self.runs)["runs"]]
        self.assertEqual(found_by_text, ["40-0117-31-out"])

    def test_a_note_that_comes_later_is_found_and_counted(self):
        self.repair(0, "31", self.thd_left)
        self.assertEqual(told("list", "--runs", self.runs, "--said", "smelt")["runs"], [])
        run = os.path.join(self.runs, "40-0117-31-in")
        status, out, said = ask("note", run, "smelt of a hot resistor", "--by", "anna")
        self.assertEqual(status, 0, out + said)
        (line,) = told("list", "--runs", self.runs, "--said", "smelt")["runs"]
        self.assertEqual((line["id"], line["remarks"]), ("40-0117-31-in", 1))
        self.assertIn("anna: smelt of a hot resistor", line["words"])

    def test_an_index_of_an_earlier_version_fills_again_from_the_folders(self):
        self.repair(0, "31", self.thd_left)
        told("list", "--runs", self.runs)
        with sqlite3.connect(os.path.join(self.runs, "index.sqlite")) as index:
            index.executescript(
                "DROP TABLE reading; DROP TABLE point; DROP TABLE run;"
                "CREATE TABLE run (id TEXT PRIMARY KEY, folder TEXT) STRICT; PRAGMA user_version=1"
            )
        index.close()
        self.assertEqual(len(told("list", "--runs", self.runs)["runs"]), 2)
        self.assertEqual(len(self.asked()["faults"]), 1)

    def test_it_is_read_while_another_program_keeps_the_record(self):
        self.repair(0, "31", self.thd_left)
        told("list", "--runs", self.runs)
        with open(os.path.join(self.runs, "index.sqlite.lock"), "a", encoding="utf-8") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            self.assertEqual(ask("list", "--runs", self.runs)[0], 0)
            self.assertEqual(len(self.asked()["faults"]), 1)
            self.assertEqual(told("statistics", "H40", "--runs", self.runs)["units"], 1)

    def test_a_serial_that_is_not_there_says_so(self):
        self.repair(0, "31", self.thd_left)
        status, _, said = ask("history", "1\x1b[31m", "--runs", self.runs)
        self.assertEqual(status, 66)
        self.assertNotIn("\x1b", said)


if __name__ == "__main__":
    unittest.main()

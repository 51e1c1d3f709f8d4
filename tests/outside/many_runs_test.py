"""Ten thousand runs in the record, made from one real run: they are found, counted and indexed anew, and
what that takes is stated. Tests do not measure time: the times are printed and judged by nobody.

    AFTERLOAD_MANY_RUNS=2000 for fewer
"""

import copy
import json
import os
import random
import shutil
import tempfile
import time
import unittest

from many_runs import document_of, moved, stamp, with_verdicts, write_run
from shared_runs import ask, received

RUNS = int(os.environ.get("AFTERLOAD_MANY_RUNS", "10000"))
MODELS = ("H40", "H60", "S60", "T12")
UNITS = 2500  # four runs each, on the average


def fill(runs, count):
    """The folders; how many of them failed, and how many are of the first model."""
    draw = random.Random(4711)
    faulty = document_of(received())
    sound = with_verdicts(copy.deepcopy(faulty), lambda figure: False)
    failed = of_first = 0
    for number in range(count):
        unit = draw.randrange(UNITS)
        fails = draw.random() < 0.3
        run = copy.deepcopy(faulty if fails else sound)
        run["unit"]["model"] = MODELS[unit % len(MODELS)]
        failed += fails
        of_first += unit % len(MODELS) == 0
        spread = draw.gauss(0.0, 0.2)
        moved(run, "gain", lambda value: value + spread)
        moved(run, "thd", lambda value: value * 10.0**spread)
        day = 2200 * number // count
        write_run(runs, run, f"run-{number:05}", f"{unit:05}", stamp(day, number % 500),
                  "as_received" if fails else "repaired", f"J{number // 2}",
                  f'afterload: job/1\nticket: "J{number // 2}"\ncomplaint: no bass\n'
                  f'cause: capacitor C{number} dried out\n')  # fmt: skip
    return failed, of_first


class ManyRuns(unittest.TestCase):
    def timed(self, what, *words):
        began = time.monotonic()
        status, out, said = ask(*words)
        took = time.monotonic() - began
        self.assertEqual(status, 0, said + out[:500])
        print(f"{what:<44} {took:8.2f} s", flush=True)
        return out

    def test_all_are_indexed_found_and_counted(self):
        runs = tempfile.mkdtemp()
        self.addCleanup(shutil.rmtree, runs)
        failed, of_first = fill(runs, RUNS)
        size = sum(os.path.getsize(os.path.join(runs, name, "run.json")) for name in os.listdir(runs))
        print(f"\n{RUNS} runs, {size / 1e6 / RUNS:.2f} MB of run.json each")
        where = ("--runs", runs)
        self.assertEqual(
            self.timed("index made from the folders", "reindex", *where),
            f"{RUNS} runs indexed, 0 folders could not be read\n",
        )
        index = os.path.getsize(os.path.join(runs, "index.sqlite"))
        print(f"{'index':<44} {index / 1e6:8.1f} MB")
        lines = self.timed("list, the newest hundred", "list", *where).splitlines()
        self.assertEqual(len(lines), min(RUNS, 100) + 1)
        found = json.loads(
            self.timed("list, all that failed", "list", *where, "--verdict", "fail", "--most", "100000", "--json")
        )
        self.assertEqual(len(found["runs"]), failed)
        found = json.loads(self.timed("search, by a part in a job file", "search", "C77 dried", *where, "--json"))
        self.assertEqual([run["id"] for run in found["runs"]], ["run-00077"])
        found = json.loads(self.timed("statistics of a model", "statistics", MODELS[0], *where, "--json"))
        counted = [row["others"] for row in found["figures"] if row["label"] == "gain 1 kHz" and row["channel"] == 1]
        self.assertEqual(counted, [found["units"]])
        self.assertGreater(found["units"], 0)
        self.assertLessEqual(found["units"], UNITS // len(MODELS))
        self.assertLessEqual(found["runs"], of_first)
        self.timed("statistics, a unit among them", "statistics", MODELS[0], "--serial", "00000", *where)
        self.timed("history of a unit", "history", "00000", *where)


if __name__ == "__main__":
    unittest.main()

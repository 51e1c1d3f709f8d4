"""An earlier run beside a run: on the terminal's sheet, on the report's first page and under its plots."""

import glob
import json
import os
import shutil
import tempfile
import unittest

from shared_runs import QUICK_CHECK, ask, fixture, mended, read, received


def thd_at_1_watt(run, side):
    steps = json.loads(read(os.path.join(run, "run.json")))["steps"]
    (value,) = [
        figure["value"] for step in steps for figure in step["figures"] if figure["id"] == f"gain and balance/thd/1 W/997Hz/{side}"
    ]
    return value


class Before(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp()
        self.addCleanup(shutil.rmtree, self.folder)

    def copy(self, run):
        path = os.path.join(tempfile.mkdtemp(dir=self.folder), "run")
        shutil.copytree(run, path)
        return path

    def page(self, run):
        return read(os.path.join(run, "report.html"))

    def run_words(self, serial="40-0117"):
        return [
            "run", QUICK_CHECK, "--unit", fixture("units/hollinfay-h40.rating.yaml"),
            "--house", fixture("house.rating.yaml"), "--bench", fixture("benches/north.bench.yaml"),
            "--serial", serial, "--stage", "repaired", "--assume-prompts", "--quiet",
            "--runs", os.path.join(self.folder, "runs"), "--before", received(),
        ]  # fmt: skip

    def test_a_run_with_an_earlier_one_keeps_it_and_its_report_is_made_anew_from_its_own_folder(self):
        status, out, said = ask(*self.run_words())
        self.assertEqual((status, said), (0, ""))
        rows = out.splitlines()
        place = next(i for i, row in enumerate(rows) if "THD 1 W, 1 kHz" in row)
        # Both channels in per cent, as the earlier run itself has them, to the digits of the row.
        self.assertRegex(rows[place + 1], r"^    before .* better$")
        for shown, side in zip(rows[place + 1].split()[1:3], ("left", "right")):
            self.assertAlmostEqual(float(shown) / (100.0 * thd_at_1_watt(received(), side)), 1.0, delta=0.005)
        self.assertLessEqual(max(len(row) for row in rows if "/" not in row), 80)
        (run,) = glob.glob(os.path.join(self.folder, "runs", "*"))
        files = json.loads(read(os.path.join(run, "run.json")))["files"]
        kept = next(file["path"] for file in files if file["role"] == "before")
        self.assertEqual(read(os.path.join(run, kept)), read(os.path.join(received(), "run.json")))
        first = self.page(run)
        self.assertIn('<table class="first"', first)
        os.remove(os.path.join(run, "report.html"))
        self.assertEqual(ask("report", run)[0], 0)
        self.assertEqual(self.page(run), first)
        self.assertEqual(ask("replay", run)[0], 0)
        with open(os.path.join(run, kept), "a", encoding="utf-8") as file:
            file.write(" ")
        status, out, said = ask("show", run)
        self.assertEqual(status, 0)
        self.assertIn("its checksum differs", said)
        self.assertNotIn("    before", out)

    def test_a_report_takes_another_run_as_before_and_the_run_stays_as_it_is(self):
        run = self.copy(mended())
        document = read(os.path.join(run, "run.json"))
        self.assertNotIn('<table class="first"', self.page(run))
        self.assertEqual(ask("report", run, "--before", received())[0], 0)
        page = self.page(run)
        for word in ('<table class="first"', "as received", "curve right before", "Grey: before."):
            self.assertIn(word, page)
        self.assertLess(len(page), 400_000)
        self.assertEqual(read(os.path.join(run, "run.json")), document)
        # From now on, without the earlier folder being there.
        os.remove(os.path.join(run, "report.html"))
        self.assertEqual(ask("report", run)[0], 0)
        self.assertEqual(self.page(run), page)
        status, out, said = ask("show", run)
        self.assertEqual((status, said), (0, ""))
        self.assertIn("    before", out)
        kept = os.path.join(run, "before.run.json")
        os.truncate(kept, os.path.getsize(kept) // 2)
        status, out, said = ask("show", run)
        self.assertEqual(status, 0)
        self.assertIn("before.run.json", said)
        self.assertNotIn("    before", out)

    def test_an_earlier_run_of_another_unit_is_refused_before_anything_is_driven(self):
        status, out, said = ask(*self.run_words(serial="40-0118"))
        self.assertEqual(status, 65)
        self.assertIn("the earlier run is of another unit: serial 40-0117 in one run, 40-0118 in the other", " ".join((said + out).split()))
        self.assertEqual(os.path.isdir(os.path.join(self.folder, "runs")), False)
        other = self.copy(received())
        path = os.path.join(other, "run.json")
        text = read(path).replace('"model": "H40"', '"model": "H60"')
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        status, _, said = ask("report", self.copy(mended()), "--before", other)
        self.assertEqual(status, 64)
        self.assertIn("is a run of another unit: model H60", said)


if __name__ == "__main__":
    unittest.main()

"""An old run scored against a changed sheet, and computed again, from its stored records alone."""

import json
import os
import re
import shutil
import tempfile
import unittest

import jsonschema

from shared_runs import ROOT, ask, fixture, read, received


def validator(name):
    schema = json.loads(read(os.path.join(ROOT, "runner/papers/schemas", f"{name}.schema.json")))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def everything_in(folder):
    """Every file of the folder with its bytes."""
    found = {}
    for place, _, names in os.walk(folder):
        for name in names:
            with open(os.path.join(place, name), "rb") as file:
                found[os.path.relpath(os.path.join(place, name), folder)] = file.read()
    return found


class Rescore(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp()
        self.addCleanup(shutil.rmtree, self.folder)
        self.run_folder = os.path.join(self.folder, "run")
        shutil.copytree(received(), self.run_folder)

    def sheet(self, *changes):
        """The unit's sheet with texts replaced."""
        text = read(fixture("units/hollinfay-h40.rating.yaml"))
        for pattern, replacement in changes:
            text, count = re.subn(pattern, replacement, text)
            self.assertGreater(count, 0, pattern)
        path = os.path.join(self.folder, "changed.rating.yaml")
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        return path

    def rescored(self, sheet, status):
        got, out, said = ask("rescore", self.run_folder, "--unit", sheet, "--json")
        self.assertEqual(got, status, out[:500] + said)
        document = json.loads(out)
        self.assertEqual([error.message for error in validator("rescore").iter_errors(document)], [])
        return document

    def test_the_same_sheet_changes_nothing_and_a_wider_limit_changes_its_verdict_alone(self):
        before = everything_in(self.run_folder)
        same = self.rescored(self.sheet(), status=1)
        self.assertEqual(same["changed"], [])
        self.assertEqual((same["verdict_before"], same["verdict"]), ("fail", "fail"))
        wide = self.sheet((r"at_most: 0\.03 %", "at_most: 0.06 %"))
        document = self.rescored(wide, status=1)
        changed = {
            (each["before"]["verdict"], each["after"]["verdict"], "thd/1 W/997Hz/left" in each["id"])
            for each in document["changed"]
            if each["before"]["verdict"] != each["after"]["verdict"]
        }
        self.assertEqual(changed, {("fail", "pass", True)}, document["changed"])
        for each in document["changed"]:
            self.assertEqual(each["before"].get("value"), each["after"].get("value"))
            self.assertEqual(each["after"]["rating"]["limit"], {"at_most": 0.0006})
        # What was there is still there, byte for byte; the new documents stand beside it.
        after = everything_in(self.run_folder)
        for name, text in before.items():
            self.assertEqual(after[name], text, name)
        new = sorted(set(after) - set(before))
        self.assertEqual(len([name for name in new if re.fullmatch(r"rescored-\d{8}T\d{6}Z(-\d)?\.json", name)]), 2)
        stored = json.loads(after[[name for name in new if name.endswith(".json")][-1]])
        self.assertEqual(stored["run"], document["run"])
        run = validator("run")
        self.assertEqual([error.message for error in run.iter_errors(stored["document"])], [])
        status, out, _ = ask("show", self.run_folder)
        self.assertEqual(status, 1)
        self.assertIn("FAIL", out)

    def test_a_figure_driven_to_the_old_rated_power_is_not_the_new_one(self):
        # Signal to noise re rated output goes with the sheet: 40 W to 80 W are 3.01 dB.
        louder = self.sheet((r"at_least: 40 W", "at_least: 80 W"))
        document = self.rescored(louder, status=1)
        moved = [each for each in document["changed"] if "signal_to_noise" in each["id"]]
        self.assertEqual(len(moved), 2, [each["id"] for each in document["changed"]])
        for each in moved:
            self.assertAlmostEqual(each["after"]["value"] - each["before"]["value"], 3.0103, delta=1e-3)

    def test_a_sheet_of_another_unit_is_refused(self):
        status, out, said = ask(
            "rescore", self.run_folder, "--unit", fixture("units/tarnbeck-s60.rating.yaml")
        )
        self.assertEqual((status, out), (65, ""))
        self.assertIn("the run is of Hollinfay H40", said)

    def test_a_folder_that_is_not_whole_is_refused_and_left_as_it_is(self):
        records = sorted(os.listdir(os.path.join(self.run_folder, "records")))
        with open(os.path.join(self.run_folder, "records", records[2]), "ab") as file:
            file.write(b"\0")
        os.remove(os.path.join(self.run_folder, "records", records[3]))
        before = everything_in(self.run_folder)
        status, out, said = ask("rescore", self.run_folder, "--unit", self.sheet())
        self.assertEqual((status, out), (65, ""))
        self.assertIn(f"records/{records[2]}: is not the record that was measured", said)
        self.assertIn(f"records/{records[3]}: is missing", said)
        self.assertEqual(everything_in(self.run_folder), before)

    def test_mistakes_in_the_sheet_are_shown_with_their_place(self):
        sheet = self.sheet((r"at_most: 0\.03 %", "at_most: 0.03"))
        status, _, said = ask("rescore", self.run_folder, "--unit", sheet)
        self.assertEqual(status, 65)
        self.assertRegex(said, r"changed\.rating\.yaml:\d+:\d+: ")

    def test_the_page_of_a_terminal_says_what_changed_and_what_the_run_itself_said(self):
        status, out, _ = ask(
            "rescore", self.run_folder, "--unit", self.sheet((r"at_most: 0\.03 %", "at_most: 0.06 %"))
        )
        self.assertEqual(status, 1)
        self.assertIn("The run itself said fail", out)
        self.assertIn("was fail, ≤ 0.03 %; is pass, ≤ 0.06 %", re.sub(r"\s+", " ", out))
        self.assertLessEqual(max(len(line) for line in out.splitlines() if "/" not in line), 80)


class Replay(unittest.TestCase):
    def test_all_figures_are_the_same_to_the_last_digit_and_an_edited_one_is_found(self):
        status, out, _ = ask("replay", received())
        self.assertEqual(status, 0)
        self.assertIn("the same to the last digit", out)
        with tempfile.TemporaryDirectory() as folder:
            run = os.path.join(folder, "run")
            shutil.copytree(received(), run)
            path = os.path.join(run, "run.json")
            document = json.loads(read(path))
            figure = next(
                each for step in document["steps"] for each in step["figures"] if each["figure"] == "gain"
            )
            figure["value"] += 1e-12 * figure["value"]
            with open(path, "w", encoding="utf-8") as file:
                json.dump(document, file)
            status, out, _ = ask("replay", run, "--json")
            self.assertEqual(status, 1)
            told = json.loads(out)
            self.assertFalse(told["same"])
            self.assertEqual(len(told["differences"]), 1)
            self.assertIn(figure["id"], told["differences"][0])


if __name__ == "__main__":
    unittest.main()

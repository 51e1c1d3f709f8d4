"""The same unit before and after: compare over the folders of runs on the simulated bench: a unit as
it came in, the same unit mended, and the mended one set up again.
"""

import json
import os
import shutil
import tempfile
import unittest

import jsonschema

from shared_runs import ROOT, again, ask, mended, received


def validator():
    with open(os.path.join(ROOT, "runner/papers/schemas/comparison.schema.json"), encoding="utf-8") as file:
        schema = json.load(file)
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


class Compare(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp()
        self.addCleanup(shutil.rmtree, self.folder)

    def copy(self, run):
        path = os.path.join(tempfile.mkdtemp(dir=self.folder), "run")
        shutil.copytree(run, path)
        return path

    def test_a_run_beside_itself_is_refused(self):
        status, out, said = ask("compare", mended(), self.copy(mended()))
        self.assertEqual((status, out), (64, ""))
        self.assertIn("are one run", said)

    def document(self, *runs, status=0):
        got, out, said = ask("compare", *runs, "--json")
        self.assertEqual(got, status, out + said)
        found = json.loads(out)
        self.assertEqual([error.message for error in validator().iter_errors(found)], [])
        self.assertEqual(found["exit_status"], status)
        return found

    def alter(self, run, change):
        path = os.path.join(run, "run.json")
        with open(path, encoding="utf-8") as file:
            document = json.load(file)
        change(document)
        with open(path, "w", encoding="utf-8") as file:
            json.dump(document, file)

    def test_a_healthy_unit_set_up_again_shows_no_real_change(self):
        figures = self.document(mended(), again())["comparisons"][0]["figures"]
        self.assertGreater(len(figures), 25)
        still = [each for each in figures if each["change"] == "none"]
        self.assertGreaterEqual(len(still), 0.95 * len(figures), figures)
        for each in figures:
            # The mains is measured and is no figure of the unit; its meter is the same.
            self.assertNotEqual(each["sense"], "worse")

    def test_a_mended_unit_shows_the_change_where_the_fault_was_and_nowhere_else(self):
        # Starved bias left: its distortion. A dried coupling capacitor right: its bass.
        found = self.document(received(), mended())["comparisons"][0]
        better = {(each["figure"], each.get("channel")) for each in found["figures"] if each["sense"] == "better"}
        self.assertEqual(
            better, {("thd", 1), ("thd_plus_noise", 1), ("frequency_response", 2)}, found["figures"]
        )
        for each in found["figures"]:
            if each["figure"] == "thd" and each["channel"] == 1:
                self.assertEqual((each["change"], each["sense"]), ("changed", "better"), each)
            if (each["figure"], each.get("channel")) == ("frequency_response", 2):
                self.assertLess(each["worst_at_hz"], 25)
                self.assertGreater(each["difference"], 8)
        self.assertEqual(found["counts"]["worse"], 0)

    def test_the_other_way_round_it_got_worse_and_the_exit_status_says_so(self):
        found = self.document(mended(), received(), status=1)["comparisons"][0]
        self.assertGreater(found["counts"]["worse"], 5)
        self.assertEqual(found["counts"]["better"], 0)

    def test_only_what_both_share_drops_out_of_a_gain(self):
        # GUM 5.2.2 from the documents alone: of two gains through one range and one source nothing
        # but noise is left, and what setting up again adds.
        found = self.document(mended(), again())["comparisons"][0]
        for each in (e for e in found["figures"] if e["figure"] == "gain"):
            kinds = {line["kind"] for line in each["budget"]}
            self.assertNotIn("systematic", kinds, each)
            self.assertAlmostEqual(
                each["shared_u_k1"],
                (each["before"]["u_k1"] ** 2 + each["after"]["u_k1"] ** 2) ** 0.5,
                delta=1e-3 * each["before"]["u_k1"],
            )
            setting_up = sum(
                line["u_k1"] ** 2 for line in each["budget"] if line["source"].startswith("setting up")
            )
            self.assertGreater(setting_up, 0.99 * each["u_k1"] ** 2)

    def test_on_another_rig_nothing_is_shared(self):
        other = self.copy(again())

        def another_card(document):
            document["bench"]["card"]["name"] = "borrowed card"

        self.alter(other, another_card)
        found = self.document(mended(), other)["comparisons"][0]
        self.assertFalse(found["same_rig"])
        for each in found["figures"]:
            self.assertFalse(each.get("shared_u_k1"))

    def test_runs_of_one_stage_give_the_shops_own_repeats(self):
        third, fourth = self.copy(again()), self.copy(mended())
        for run, away in ((third, 0.03), (fourth, -0.02)):

            def moved(document, away=away):
                document["id"] += f"-{away}"
                for step in document["steps"]:
                    for each in step["figures"]:
                        if each["figure"] == "gain":
                            each["value"] += away

            self.alter(run, moved)
        found = self.document(received(), mended(), again(), third, fourth)
        self.assertEqual([each["setting_up"] for each in found["comparisons"]], ["own repeats"] * 4)
        self.assertEqual([(e["before"], e["after"]) for e in found["comparisons"]], [(0, n) for n in (1, 2, 3, 4)])
        gain = next(e for e in found["comparisons"][0]["figures"] if e["figure"] == "gain")
        line = next(l for l in gain["budget"] if l["source"].startswith("setting up"))
        self.assertEqual(line["dof"], 3)
        # Four readings of one gain: 0, 0, 0.03 and -0.02 dB; √2 of their standard deviation.
        self.assertAlmostEqual(line["u_k1"], 2**0.5 * 0.0206, delta=2e-3)
        # Student's factor for three degrees of freedom, GUM table G.2.
        self.assertGreater(gain["k"], 2.5)
        self.assertLess(gain["k"], 3.32)

    def test_another_load_is_not_compared_and_says_why(self):
        other = self.copy(again())

        def into_four_ohm(document):
            for step in document["steps"]:
                for each in step["figures"]:
                    if "load_ohm" in each["conditions"]:
                        each["conditions"]["load_ohm"] = 4.0

        self.alter(other, into_four_ohm)
        found = self.document(mended(), other)["comparisons"][0]
        gain = next(each for each in found["figures"] if each["figure"] == "gain")
        self.assertEqual(gain["change"], "not_comparable")
        self.assertEqual(gain["reason"], "other load: 8.02 Ω before, 4 Ω after")

    def test_another_unit_is_refused_and_named_unless_told(self):
        other = self.copy(again())

        def another_serial(document):
            document["unit"]["serial"] = "40-0118"

        self.alter(other, another_serial)
        status, out, said = ask("compare", mended(), other)
        self.assertEqual((status, out), (64, ""))
        self.assertIn("serial 40-0117 in one run, 40-0118 in the other", said)
        self.assertIn("--other-units", said)
        status, out, said = ask("compare", mended(), other, "--other-units")
        self.assertEqual((status, said), (0, ""))

    def test_a_changed_record_is_named_and_the_rest_is_shown(self):
        other = self.copy(again())
        records = sorted(os.listdir(os.path.join(other, "records")))
        with open(os.path.join(other, "records", records[0]), "r+b") as file:
            file.seek(200)
            file.write(b"\x55" * 8)
        os.remove(os.path.join(other, "records", records[-1]))
        with open(os.path.join(other, "inputs", os.listdir(os.path.join(other, "inputs"))[0]), "a") as file:
            file.write("\n# changed\n")
        found = self.document(mended(), other, status=65)
        wrong = found["runs"][1]["wrong"]
        self.assertEqual(len(wrong), 3, wrong)
        self.assertTrue(any(records[0] in line and "checksum differs" in line for line in wrong), wrong)
        self.assertTrue(any(records[-1] in line and "is missing" in line for line in wrong), wrong)
        self.assertTrue(any("not the file that was used" in line for line in wrong), wrong)
        self.assertEqual(found["runs"][0]["wrong"], [])
        self.assertGreater(len(found["comparisons"][0]["figures"]), 25)
        status, out, _ = ask("compare", mended(), other)
        self.assertEqual(status, 65)
        self.assertIn("Nothing proves any more", out)

    def test_a_torn_run_is_named_and_the_others_are_compared(self):
        torn = self.copy(again())
        path = os.path.join(torn, "run.json")
        with open(path, encoding="utf-8") as file:
            half = file.read()[:6000]
        with open(path, "w", encoding="utf-8") as file:
            file.write(half)
        status, out, said = ask("compare", mended(), torn)
        self.assertEqual((status, out), (65, ""))
        self.assertIn("run.json", said)
        found = self.document(mended(), torn, again(), status=65)
        self.assertEqual(len(found["unreadable"]), 1)
        self.assertEqual(len(found["comparisons"]), 1)

    def test_a_figure_that_its_budget_does_not_give_was_edited(self):
        other = self.copy(again())

        def better_known(document):
            document["steps"][2]["figures"][0]["u_k1"] = 1e-9

        self.alter(other, better_known)
        status, _, said = ask("compare", mended(), other)
        self.assertEqual(status, 65)
        self.assertIn("run.json", said)

    def test_the_table_is_as_wide_as_it_may_be_and_moves_no_cursor(self):
        other = self.copy(again())

        def evil(document):
            for step in document["steps"]:
                step["group"] = "\x1b[2J" + step["group"]
                for each in step["figures"]:
                    each["label"] += "\x1b[31m<b>\u202e" + "x" * 120

        self.alter(other, evil)
        for words in ((), ("--color=never",)):
            status, out, _ = ask("compare", mended(), other, *words)
            self.assertEqual(status, 0)
            self.assertNotIn("\x1b", out)
            self.assertNotIn("\u202e", out)
            self.assertLessEqual(max(len(line) for line in out.splitlines()), 80)
        status, out, _ = ask("compare", received(), mended())
        self.assertIn("better", out)
        self.assertRegex(out, r"exit status 0\n$")

    def test_one_run_is_a_mistake_of_the_command_line(self):
        status, _, said = ask("compare", mended())
        self.assertEqual(status, 64)
        self.assertIn("runs", said)
        status, out, _ = ask("compare", "--help")
        self.assertEqual(status, 0)
        self.assertIn("Exit status", out)


if __name__ == "__main__":
    unittest.main()

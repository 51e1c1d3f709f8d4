"""Only what failed or was left open is measured again, with what it depends on; the new run says of which run
it is a retest, and what stands as it was.
"""

import json
import os
import shutil
import tempfile
import unittest

import jsonschema
from shared_runs import ROOT, ask, fixture, mended, received


def run_of(folder):
    with open(os.path.join(folder, "run.json"), encoding="utf-8") as file:
        return json.load(file)


def scored(run):
    return {f["id"]: f["verdict"] for step in run["steps"] for f in step["figures"] if f["verdict"]}


class Retest(unittest.TestCase):
    def setUp(self):
        self.runs = tempfile.mkdtemp()
        self.addCleanup(shutil.rmtree, self.runs)

    def retested(self, folder, bench, *words):
        """Exit status and the document of the retest."""
        status, out, said = ask(
            "retest", folder, "--bench", fixture("benches", f"{bench}.bench.yaml"), "--assume-prompts",
            "--runs", self.runs, "--json", *words,
        )  # fmt: skip
        self.assertLess(status, 3, out + said)
        return status, json.loads(out)

    def test_after_the_mend_only_what_had_failed_is_measured_and_passes(self):
        earlier = run_of(received())
        status, again = self.retested(received(), "north")
        self.assertEqual((status, again["verdict"]), (0, "pass"))
        self.assertEqual((again["stage"], again["unit"]["serial"]), ("repaired", "40-0117"))
        open_steps = {
            step["name"] for step in earlier["steps"]
            if any(f["verdict"] in ("fail", "conditional_fail", "not_resolvable") for f in step["figures"])
        }  # fmt: skip
        carried_out = [step["name"] for step in again["steps"]]
        self.assertTrue(open_steps < set(carried_out))
        self.assertLess(len(carried_out), len(earlier["steps"]))
        # The gate of the offset comes before any drive, in whatever run.
        self.assertEqual(carried_out[0], earlier["steps"][0]["name"])
        self.assertTrue(any(reading["gate"] for reading in again["steps"][0]["readings"]))
        retest = again["retest"]
        self.assertEqual((retest["of"], retest["verdict"]), (earlier["id"], "fail"))
        self.assertEqual([each["step"] for each in retest["measured_again"]], carried_out)
        stands = {each["id"]: each["verdict"] for each in retest["not_measured_again"]}
        measured = {f["id"] for step in again["steps"] for f in step["figures"]}
        self.assertEqual(set(stands) & measured, set())
        self.assertEqual(scored(earlier).keys(), stands.keys() | (scored(earlier).keys() & measured))
        self.assertTrue(all(scored(earlier)[each] == verdict for each, verdict in stands.items()))
        self.assertNotIn("fail", stands.values())

    def test_what_is_not_measured_again_is_said_and_is_not_called_untested(self):
        earlier = run_of(received())
        again = self.retested(received(), "north")[1]
        self.assertEqual(again["not_tested"], earlier["not_tested"])
        folder = os.path.join(self.runs, again["id"])
        status, out, _ = ask("show", folder)
        self.assertEqual(status, 0)
        squeezed = " ".join(out.split())
        self.assertIn(f"Retest of {earlier['id']} (fail). Not measured again:", squeezed)
        self.assertIn("not measured again", squeezed[squeezed.index("PASS"):])
        with open(os.path.join(folder, "report.html"), encoding="utf-8") as file:
            page = file.read()
        self.assertIn("Retest of run", page)
        listed = page[page.index("Not measured again") :]
        self.assertEqual(listed[: listed.index("</ul>")].count("<li>"), len(again["retest"]["not_measured_again"]))

    def test_its_document_keeps_to_the_schema_and_its_figures_replay_to_the_last_digit(self):
        again = self.retested(received(), "north")[1]
        folder = os.path.join(self.runs, again["id"])
        with open(os.path.join(ROOT, "runner/papers/schemas/run.schema.json"), encoding="utf-8") as file:
            jsonschema.Draft202012Validator(json.load(file)).validate(run_of(folder))
        status, out, said = ask("replay", folder)
        self.assertEqual(status, 0, out + said)

    def test_a_fault_that_is_still_there_fails_again(self):
        status, again = self.retested(received(), "north-as-received")
        self.assertEqual((status, again["verdict"]), (1, "fail"))

    def test_a_retest_of_a_retest_measures_what_that_left_open_and_the_first_still_stands(self):
        first = self.retested(received(), "north-as-received")[1]
        second = self.retested(os.path.join(self.runs, first["id"]), "north")[1]
        self.assertEqual(second["verdict"], "pass")
        self.assertEqual(second["retest"]["of"], first["id"])
        names = {step["name"] for step in second["steps"]}
        self.assertLessEqual(names, {step["name"] for step in first["steps"]})
        stood = {each["id"] for each in first["retest"]["not_measured_again"]}
        self.assertLessEqual(stood, {each["id"] for each in second["retest"]["not_measured_again"]})

    def test_where_nothing_is_open_there_is_nothing_to_measure(self):
        status, _, said = ask(
            "retest", mended(), "--bench", fixture("benches", "north.bench.yaml"), "--assume-prompts",
            "--runs", self.runs,
        )  # fmt: skip
        self.assertEqual(status, 66)
        self.assertIn("nothing failed or was left open", said)
        self.assertEqual(os.listdir(self.runs), [])

    def test_a_sheet_that_was_edited_since_is_refused(self):
        copy = os.path.join(self.runs, "copy")
        shutil.copytree(received(), copy)
        rating = next(file["path"] for file in run_of(copy)["files"] if file["role"] == "rating")
        with open(os.path.join(copy, rating), "a", encoding="utf-8") as file:
            file.write("# looked at\n")
        status, _, said = ask(
            "retest", copy, "--bench", fixture("benches", "north.bench.yaml"), "--assume-prompts", "--runs", self.runs
        )
        self.assertEqual(status, 66)
        self.assertIn("its checksum differs", said)

    def test_its_plan_has_only_its_steps(self):
        status, out, said = ask(
            "retest", received(), "--bench", fixture("benches", "north.bench.yaml"), "--plan", "--json"
        )
        self.assertEqual(status, 0, out + said)
        names = {step["name"] for step in json.loads(out)["steps"]}
        self.assertNotIn("separation", names)
        self.assertIn("response", names)


if __name__ == "__main__":
    unittest.main()

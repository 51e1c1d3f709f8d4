"""The documents that the program itself writes, against their JSON Schemas, by a validator that is not
ours.
"""

import glob
import json
import os
import subprocess
import tempfile
import unittest

import jsonschema

from analyze import PROGRAM, analyze

ROOT = os.path.realpath(os.path.join(os.path.dirname(__file__), "..", ".."))


def schema(name):
    with open(os.path.join(ROOT, "runner", "papers", "schemas", f"{name}.schema.json")) as file:
        found = json.load(file)
    validator = jsonschema.validators.validator_for(found)
    validator.check_schema(found)
    return validator(found)


class Schema(unittest.TestCase):
    def test_analysis_documents_are_accepted_and_altered_ones_refused(self):
        validator = schema("analysis")
        captures = sorted(glob.glob(os.path.join(ROOT, "fixtures", "captures", "*.wav")))
        for kind in ("tone", "two-tone", "silence"):
            done = analyze(
                captures, "--signal", kind, "--full-scale", "1V", "--load", "8ohm", "--mains", "50Hz"
            )
            self.assertEqual(len(done.documents), len(captures))
            for document in done.documents:
                self.assertEqual([error.message for error in validator.iter_errors(document)], [])
        document = done.documents[0]
        del document["capture"]["sound"]
        self.assertFalse(validator.is_valid(document))

    def test_run_documents_are_accepted_and_altered_ones_refused(self):
        validator = schema("run")
        with tempfile.TemporaryDirectory() as folder:
            done = subprocess.run(
                [
                    PROGRAM, "run",
                    os.path.join(ROOT, "sequences", "shipped", "quick-check.sequence.yaml"),
                    "--unit", os.path.join(ROOT, "fixtures", "units", "hollinfay-h40.rating.yaml"),
                    "--house", os.path.join(ROOT, "fixtures", "house.rating.yaml"),
                    "--bench", os.path.join(ROOT, "fixtures", "benches", "north.bench.yaml"),
                    "--serial", "40-0117", "--stage", "repaired", "--assume-prompts",
                    "--runs", folder,
                ],
                capture_output=True, text=True, timeout=600,
            )  # fmt: skip
            found = glob.glob(os.path.join(folder, "*", "run.json"))
            self.assertEqual(len(found), 1, done.stderr)
            with open(found[0]) as file:
                document = json.load(file)
        self.assertEqual([error.message for error in validator.iter_errors(document)], [])
        document["verdict"] = "splendid"
        self.assertFalse(validator.is_valid(document))


if __name__ == "__main__":
    unittest.main()

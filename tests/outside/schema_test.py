"""The JSON Schemas in the repository, read by a validator that is not ours: they accept the files that
ship and the documents that the program writes, and refuse what is wrong.
"""

import copy
import glob
import json
import os
import subprocess
import tempfile
import unittest

import jsonschema
import yaml

from analyze import PROGRAM, analyze

ROOT = os.path.realpath(os.path.join(os.path.dirname(__file__), "..", ".."))


class PlainLoader(yaml.SafeLoader):
    """Dates stay the text that they are in the file."""


PlainLoader.yaml_implicit_resolvers = {
    first: [(tag, form) for tag, form in each if tag != "tag:yaml.org,2002:timestamp"]
    for first, each in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


def load(path):
    with open(path) as file:
        return yaml.load(file, PlainLoader)


def schema(folder, kind):
    with open(os.path.join(ROOT, folder, "schemas", f"{kind}.schema.json")) as file:
        found = json.load(file)
    validator = jsonschema.validators.validator_for(found)
    validator.check_schema(found)
    return validator(found)


def shipped(kind):
    return sorted(
        path
        for folder in ("fixtures", os.path.join("fixtures", "*"), os.path.join("sequences", "shipped"))
        for path in glob.glob(os.path.join(ROOT, folder, f"*.{kind}.yaml"))
        if os.path.basename(os.path.dirname(path)) not in ("broken", "hostile")
    )


class Schema(unittest.TestCase):
    def accepts_shipped(self, kind):
        validator = schema("sequences", kind)
        paths = shipped(kind)
        self.assertGreater(len(paths), 0)
        for path in paths:
            with self.subTest(path=os.path.relpath(path, ROOT)):
                errors = [error.message for error in validator.iter_errors(load(path))]
                self.assertEqual(errors, [])

    def refuses(self, kind, change):
        document = copy.deepcopy(load(shipped(kind)[0]))
        change(document)
        errors = list(schema("sequences", kind).iter_errors(document))
        self.assertNotEqual(errors, [], f"a {kind} file that is wrong is accepted")

    def test_rating_files_that_ship_are_accepted(self):
        self.accepts_shipped("rating")

    def test_bench_files_that_ship_are_accepted(self):
        self.accepts_shipped("bench")

    def test_sequence_files_that_ship_are_accepted(self):
        self.accepts_shipped("sequence")

    def test_an_unknown_key_is_refused_in_every_kind_of_file(self):
        for kind in ("rating", "bench", "sequence"):
            with self.subTest(kind=kind):
                self.refuses(kind, lambda document: document.update(unheard_of=1))

    def test_a_bare_number_where_a_unit_is_needed_is_refused(self):
        def bare_load(document):
            document["figures"][0]["load"] = 8

        def bare_resistance(document):
            document["loads"][0]["resistance"] = 8

        def bare_record(document):
            step = next(each for each in document["steps"] if "record" in each)
            step["record"] = 4

        self.refuses("rating", bare_load)
        self.refuses("bench", bare_resistance)
        self.refuses("sequence", bare_record)

    def test_analysis_documents_are_accepted_and_altered_ones_refused(self):
        validator = schema("runner", "analysis")
        captures = sorted(glob.glob(os.path.join(ROOT, "fixtures", "captures", "*.wav")))
        for kind in ("tone", "silence"):
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
        validator = schema("runner", "run")
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

"""Holds the documents of the program against their JSON Schemas (draft 2020-12), and proves that the
schemas refuse what is wrong.

usage: check_schemas.py SCHEMA_FOLDER WRITE_DOCUMENTS
"""
import copy
import json
import pathlib
import subprocess
import sys
import tempfile

import jsonschema


def refuse_constant(name):
    raise ValueError(f"{name} is not JSON")


def load(path):
    return json.loads(path.read_text(encoding="utf-8"), parse_constant=refuse_constant)


def validator(folder, name):
    schema = load(folder / name)
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def changed(document, path, value):
    """A copy in which the value at `path` is replaced, or removed for ..."""
    copied = copy.deepcopy(document)
    place = copied
    for key in path[:-1]:
        place = place[key]
    if value is ...:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    return copied


def must_refuse(checker, document, cases):
    wrong = []
    for path, value in cases:
        if checker.is_valid(changed(document, path, value)):
            wrong.append(f"accepted: {path} = {value!r}")
    return wrong


def must_accept(checker, document, cases):
    return [
        f"refused: {path} = {value!r}"
        for path, value in cases
        if not checker.is_valid(changed(document, path, value))
    ]


def main():
    folder = pathlib.Path(sys.argv[1])
    run = validator(folder, "run.schema.json")
    analysis = validator(folder, "analysis.schema.json")
    wrong = []
    with tempfile.TemporaryDirectory() as temporary:
        subprocess.run([sys.argv[2], temporary], check=True)
        documents = sorted(pathlib.Path(temporary).glob("*.json"))
        if len(documents) != 8:
            wrong.append(f"{len(documents)} documents written, 8 expected")
        loaded = {path.name: load(path) for path in documents}
    for name, document in loaded.items():
        checker = run if name.endswith(".run.json") else analysis
        for error in checker.iter_errors(document):
            wrong.append(f"{name}: {error.json_path}: {error.message[:200]}")

    sample = loaded["sample.run.json"]
    figure = ["steps", 1, "figures", 0]
    wrong += must_refuse(run, sample, [
        (["schema"], "afterload/run/2"),
        (["stage"], "cooked"),
        (["state"], "fine"),
        (["verdict"], "maybe"),
        (["unit"], ...),
        (["counts", "pass"], -1),
        (["counts", "pass"], 1.5),
        (["files", 0, "sha256"], "abc"),
        (["seeds"], ...),
        (figure + ["figure"], "loudness"),
        (figure + ["unit"], "%"),
        (figure + ["value"], "0.1"),
        (figure + ["value"], ...),
        (figure + ["u_k1"], ...),
        (figure + ["verdict"], "passed"),
        (figure + ["verdict"], ...),
        (figure + ["margin"], ...),
        (figure + ["rating"], ...),
        (figure + ["rating", "limit"], {}),
        (figure + ["rating", "sheet"], "mine"),
        (figure + ["budget", 0, "dof"], ...),
        (figure + ["budget", 0, "kind"], "guess"),
        (figure + ["conditions", "load_ohm"], 0),
        (figure + ["conditions", "load_ohm"], "8 ohm"),
        (figure + ["conditions", "output_level_exact"], ...),
        (figure + ["conditions", "bandwidth_hz"], [20]),
        (["steps", 1, "records", 0, "driven"], ...),
        (["steps", 1, "records", 1, "faults", 0, "kind"], "odd"),
        (["steps", 1, "events", 0, "blame"], "nobody"),
    ])
    wrong += must_accept(run, sample, [
        (["weather"], "rain"),
        (figure + ["colour"], 4),
        (figure + ["conditions", "humidity"], 40),
        (["bench", "card", "maker"], "x"),
        (["steps", 1, "name"], ""),
        (figure + ["budget", 0, "dof"], None),
    ])
    capture = loaded["sound.analysis.json"]
    wrong += must_refuse(analysis, capture, [
        (["schema"], "afterload/run/1"),
        (["uncertainty"], "all"),
        (["capture", "sound"], False),
        (["capture", "rate_hz"], 0),
        (["channels", 0, "channel"], 0),
        (["channels", 0, "figures", 0, "value"], ...),
        (["channels", 0, "figures", 1, "table", 0, "order"], 1),
        (["channels", 0, "figures", 3, "bound_is"], ...),
        (["pairs", 0, "to"], ...),
    ])
    wrong += must_accept(analysis, capture, [(["events"], []), (["capture", "bits"], 24)])
    for line in wrong:
        print(line)
    print(f"{len(loaded)} documents held against their schemas, {len(wrong)} mistakes")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())

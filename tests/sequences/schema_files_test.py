"""The JSON Schemas accept the files that ship and refuse the broken ones, as far as a schema can see.

Files are read as an editor reads them: YAML 1.2 core, so that a date is a text and `yes` is a word.
"""
import json
import pathlib
import re
import sys

import jsonschema
import yaml

ROOT = pathlib.Path(__file__).resolve().parents[2]

# What a schema cannot see: two values that only together are wrong, and what is wrong across values.
BEYOND_A_SCHEMA = {
    "duplicate-id.rating.yaml", "duplicate-key.rating.yaml",
    "limits-crossed.rating.yaml", "warn-outside.rating.yaml", "empty-band.rating.yaml",
    "huge-number.rating.yaml", "out-of-range.rating.yaml", "tag.rating.yaml",
    "date.bench.yaml", "nothing-simulated.bench.yaml", "unknown-fault.bench.yaml",
    "unknown-parameter.sequence.yaml", "parameter-without-unit.sequence.yaml",
    "open-parameter.sequence.yaml", "no-level.sequence.yaml", "no-frequency.sequence.yaml",
    "silence-with-level.sequence.yaml", "noise-of-a-tone.sequence.yaml",
    "figure-without-signal.sequence.yaml", "separation-of-both.sequence.yaml",
    "response-at-one.sequence.yaml", "reference-not-played.sequence.yaml",
    "short-record.sequence.yaml", "level-of-two-kinds.sequence.yaml",
    "soak-file.sequence.yaml", "soak-in-a-soak.sequence.yaml", "soak-prompt.sequence.yaml",
    "unknown-fact.hints.yaml", "facts-of-two-kinds.hints.yaml", "fact-of-two-things.hints.yaml",
    "certain-of-a-unit.hints.yaml", "other-of-both.hints.yaml", "limit-without-unit.hints.yaml",
    "drive-limited-by-distortion.sequence.yaml", "too-many-repetitions.sequence.yaml",
    "after-no-such-step.sequence.yaml", "two-generators.bench.yaml", "loads-in-two-ways.bench.yaml",
}


class EditorLoader(yaml.SafeLoader):
    """YAML 1.2 core: no dates, no yes and no, no sexagesimal numbers."""


EditorLoader.yaml_implicit_resolvers = {}
EditorLoader.add_implicit_resolver(
    "tag:yaml.org,2002:bool", re.compile(r"^(?:true|false)$"), list("tf"))
EditorLoader.add_implicit_resolver(
    "tag:yaml.org,2002:int", re.compile(r"^[-+]?(?:0|[1-9][0-9]*)$"), list("-+0123456789"))
EditorLoader.add_implicit_resolver(
    "tag:yaml.org,2002:float",
    re.compile(r"^[-+]?[0-9]+(?:\.[0-9]*)?(?:[eE][-+]?[0-9]+)?$"), list("-+0123456789"))
EditorLoader.add_implicit_resolver("tag:yaml.org,2002:null", re.compile(r"^(?:~|null|)$"), ["~", "n", ""])


def validator(kind):
    schema = json.loads((ROOT / "sequences/schemas" / f"{kind}.schema.json").read_text("utf-8"))
    jsonschema.Draft7Validator.check_schema(schema)
    return jsonschema.Draft7Validator(schema)


VALIDATORS = {kind: validator(kind) for kind in ("rating", "bench", "sequence", "job", "hints")}


def errors_of(path):
    kind = path.name.split(".")[-2]
    try:
        document = yaml.load(path.read_bytes().decode("utf-8"), Loader=EditorLoader)
    except (yaml.YAMLError, UnicodeDecodeError, RecursionError) as error:
        yield f"not read: {error}"
        return
    for error in VALIDATORS[kind].iter_errors(document):
        yield f"{'/'.join(map(str, error.absolute_path))}: {error.message}"


def main():
    wrong = []
    good = sorted(path for folder in ("sequences/shipped", "fixtures", "fixtures/units",
                                      "fixtures/benches")
                  for path in (ROOT / folder).glob("*.yaml"))
    for path in good:
        for error in errors_of(path):
            wrong.append(f"{path.relative_to(ROOT)} is refused: {error[:300]}")
    broken = sorted((ROOT / "fixtures/broken").glob("*.yaml"))
    for path in broken:
        refused = next(errors_of(path), None) is not None
        if refused and path.name in BEYOND_A_SCHEMA:
            wrong.append(f"{path.name} is refused, though it stands among those a schema cannot see")
        if not refused and path.name not in BEYOND_A_SCHEMA:
            wrong.append(f"{path.name} is accepted")
    unknown = BEYOND_A_SCHEMA - {path.name for path in broken}
    wrong += [f"{name} is not there" for name in sorted(unknown)]
    for path in good:
        text = path.read_text("utf-8")
        link = re.search(r"^# yaml-language-server: \$schema=(\S+)", text)
        if link is None or not (path.parent / link.group(1)).resolve().is_file():
            wrong.append(f"{path.relative_to(ROOT)} names no schema for its editor")
    if len(good) < 8 or len(broken) < 60:
        wrong.append(f"only {len(good)} good and {len(broken)} broken files were found")
    for line in wrong:
        print(line)
    print(f"{len(good)} files accepted, {len(broken)} broken ones looked at, {len(wrong)} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())

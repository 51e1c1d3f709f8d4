"""The table of checks against published values, made by the tests themselves.

    published_test.py                     holds tests/published-checks.md against what the tests say
    published_test.py --write PROGRAM     writes it anew; PROGRAM is build/PRESET/bin/analysis_test
"""

import os
import subprocess
import sys
import tempfile
import unittest

HERE = os.path.dirname(os.path.abspath(__file__))
TABLE = os.path.join(HERE, "..", "published-checks.md")
SUITES = [
    "*EachWindow*", "Weighting.*", "Spectrum.*", "Noise.White*", "Noise.AWeightedWhite*",
    "PhonoCurve.*", "Harmonic.*ClosedForm", "QuasiPeak.Bursts*", "ModulationDistortion.*",
    "DifferenceDistortion.*", "Sweep.*", "CombFit.Known*", "Figure.*", "Verdict.AtThe*", "Conformance.Is*", "NormalEquations.*",
]
HEAD = """# Checks against published values

Made by the test run (tests/outside/published_test.py), not by hand: every row is a value that the
program computed and a test held against its source. Rows that are the same in several tests stand once.

"""


def rows_of(program):
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "published.tsv")
        subprocess.run(
            [program, "--gtest_filter=" + ":".join(SUITES), "--gtest_brief=1"],
            env={**os.environ, "AFTERLOAD_PUBLISHED": path},
            check=True,
            stdout=subprocess.DEVNULL,
        )
        with open(path, encoding="utf-8") as file:
            return [line.rstrip("\n").split("\t") for line in file]


def number(text):
    return f"{float(text):.7g}"


def written(reference, computed, tolerance):
    """Both as texts; what is left of the last digits is the compiler's and the machine's."""
    apart = float(computed) - float(reference)
    least = max(1e-9 * max(1e-3, abs(float(reference))), 1e-4 * float(tolerance))
    if abs(apart) < least:
        return number(reference), "0"
    return number(computed), f"{apart:+.1e}"


def table(rows):
    by_source = {}
    for source, check, reference, computed, tolerance in rows:
        value, apart = written(reference, computed, tolerance)
        line = f"| {check} | {number(reference)} | {value} | {apart} | {float(tolerance):.1e} |"
        lines = by_source.setdefault(source, {})
        lines.setdefault(check, line)
    out = HEAD
    for source in sorted(by_source):
        out += f"## {source}\n\n"
        out += "| check | reference | computed | difference | allowed |\n|---|---|---|---|---|\n"
        out += "\n".join(by_source[source].values()) + "\n\n"
    return out.rstrip("\n") + "\n"


class PublishedChecks(unittest.TestCase):
    def test_the_table_in_the_project_is_the_one_that_the_tests_make(self):
        program = os.path.join(os.path.dirname(os.environ["AFTERLOAD"]), "analysis_test")
        made = table(rows_of(program))
        with open(TABLE, encoding="utf-8") as file:
            kept = file.read()
        self.maxDiff = 2000
        self.assertEqual(made, kept, "write it anew: tests/outside/published_test.py --write PROGRAM")
        self.assertGreater(made.count("\n| "), 200)


if __name__ == "__main__":
    if len(sys.argv) == 3 and sys.argv[1] == "--write":
        text = table(rows_of(sys.argv[2]))
        with open(TABLE, "w", encoding="utf-8") as file:
            file.write(text)
    else:
        unittest.main()

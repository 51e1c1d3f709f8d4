"""A person's word beside the verdict, and a run in the formats of other programs."""

import csv
import io
import json
import os
import re
import shutil
import subprocess
import tempfile
import threading
import unittest
import xml.etree.ElementTree as ElementTree

import jsonschema

from shared_runs import ROOT, ask, read, received


def validator(name):
    schema = json.loads(read(os.path.join(ROOT, "runner/papers/schemas", f"{name}.schema.json")))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


class OnACopy(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp()
        self.addCleanup(shutil.rmtree, self.folder)
        self.run_folder = os.path.join(self.folder, "runs", "run")
        shutil.copytree(received(), self.run_folder)

    def document(self):
        return json.loads(read(os.path.join(self.run_folder, "run.json")))

    def failed(self):
        return next(
            figure
            for step in self.document()["steps"]
            for figure in step["figures"]
            if figure["verdict"] == "fail"
        )


class Remark(OnACopy):
    def lines(self):
        return [json.loads(line) for line in read(os.path.join(self.run_folder, "remarks.jsonl")).splitlines()]

    def test_notes_and_acceptances_are_kept_and_shown_and_the_verdict_stays(self):
        before = read(os.path.join(self.run_folder, "run.json"))
        figure = self.failed()
        told = ("the customer's own lead hums", "he knows, and wants it so")
        status, out, said = ask("note", self.run_folder, told[0], "--by", "anna")
        self.assertEqual((status, said), (0, ""))
        self.assertIn(told[0], out)
        status, out, said = ask(
            "accept", self.run_folder, figure["id"], "--because", told[1], "--by", "ben", "--json"
        )
        self.assertEqual((status, said), (0, ""))
        for line in self.lines():
            self.assertEqual([error.message for error in validator("remark").iter_errors(line)], [])
        self.assertEqual(json.loads(out), self.lines()[1])
        self.assertEqual([line["by"] for line in self.lines()], ["anna", "ben"])
        self.assertEqual(read(os.path.join(self.run_folder, "run.json")), before)
        status, out, said = ask("show", self.run_folder)
        self.assertEqual((status, said), (1, ""))
        flat = re.sub(r"\s+", " ", out)
        self.assertRegex(flat, r"anna, \d{4}-\d\d-\d\d \d\d:\d\d UTC: " + told[0])
        self.assertRegex(flat, r"accepted by ben, \d{4}-\d\d-\d\d \d\d:\d\d UTC: " + told[1])
        self.assertIn("FAIL", out)
        status, out, _ = ask("show", self.run_folder, figure["id"])
        self.assertIn("accepted by ben", out)
        self.assertIn("fail", out)
        status, out, _ = ask("show", self.run_folder, "--json")
        self.assertEqual(json.loads(out)["remarks"], self.lines())
        ask("report", self.run_folder)
        page = read(os.path.join(self.run_folder, "report.html"))
        self.assertIn("customer&#39;s own lead", page)
        self.assertIn("ccepted by ben", page)
        status, out, _ = ask("list", "--runs", os.path.dirname(self.run_folder))
        self.assertRegex(out.splitlines()[0], r"failed +notes +run")
        status, out, _ = ask("list", "--runs", os.path.dirname(self.run_folder), "--json")
        self.assertEqual(json.loads(out)["runs"][0]["remarks"], 2)

    def test_two_who_speak_at_once_both_stand_whole(self):
        def speak(name):
            for i in range(6):
                ask("note", self.run_folder, f"{name} {i} " + "x" * 3000, "--by", name)

        threads = [threading.Thread(target=speak, args=(name,)) for name in ("anna", "ben", "carla")]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        said = sorted(line["text"][: len(line["by"]) + 2] for line in self.lines())
        self.assertEqual(said, sorted(f"{name} {i}" for name in ("anna", "ben", "carla") for i in range(6)))

    def test_a_torn_line_is_named_and_swallows_nothing(self):
        path = os.path.join(self.run_folder, "remarks.jsonl")
        ask("note", self.run_folder, "first", "--by", "anna")
        with open(path, "a", encoding="utf-8") as file:
            file.write('{"schema": "afterload/remark/1", "kind": "no')
        status, _, _ = ask("note", self.run_folder, "third", "--by", "anna")
        self.assertEqual(status, 0)
        status, out, said = ask("show", self.run_folder)
        self.assertIn("remarks.jsonl:2:", said)
        self.assertIn("first", out)
        self.assertIn("third", out)

    def test_what_is_said_moves_no_cursor_and_makes_no_markup(self):
        ask("note", self.run_folder, "\x1b[2J<script>alert(1)</script>\u202e", "--by", "a\nb")
        _, out, _ = ask("show", self.run_folder)
        self.assertNotIn("\x1b", out)
        self.assertNotIn("\u202e", out)
        ask("report", self.run_folder)
        self.assertNotIn("<script", read(os.path.join(self.run_folder, "report.html")))

    def test_what_cannot_be_accepted_says_why_and_writes_nothing(self):
        passed = next(
            figure
            for step in self.document()["steps"]
            for figure in step["figures"]
            if figure["verdict"] == "pass"
        )
        for figure, words in (
            ("no such figure", "is called"),
            ("thd", "figures of this run are called so"),
            (passed["id"], "there is nothing to accept"),
        ):
            status, out, said = ask("accept", self.run_folder, figure, "--because", "so")
            self.assertEqual((status, out), (64, ""))
            self.assertIn(words, said)
        for words in (("note", self.run_folder, "  "), ("note", self.run_folder, "x" * 5000)):
            status, out, _ = ask(*words)
            self.assertEqual((status, out), (64, ""))
        self.assertFalse(os.path.exists(os.path.join(self.run_folder, "remarks.jsonl")))


# What the schema commonly used for JUnit reports asks of each element (windyroad/JUnit-Schema, JUnit.xsd,
# written from the reports of Apache Ant): the attributes that must be there, and the order of children.
REQUIRED = {
    "testsuites": [],
    "testsuite": ["name", "timestamp", "hostname", "tests", "failures", "errors", "time"],
    "properties": [],
    "property": ["name", "value"],
    "testcase": ["name", "classname", "time"],
    "failure": ["type"],
    "error": ["type"],
    "skipped": [],
    "system-out": [],
    "system-err": [],
}
CHILDREN = {
    "testsuites": r"(testsuite )*",
    "testsuite": r"properties (testcase )*system-out system-err ",
    "properties": r"(property )*",
    "testcase": r"((skipped|error|failure) )?",
}


def mistakes_of_junit(element):
    found = []
    for name in REQUIRED.get(element.tag, ["no such element"]):
        if not element.get(name):
            found.append(f"{element.tag} lacks {name}")
    children = "".join(child.tag + " " for child in element)
    if not re.fullmatch(CHILDREN.get(element.tag, ""), children):
        found.append(f"{element.tag} holds {children}")
    for child in element:
        found += mistakes_of_junit(child)
    return found


class Export(OnACopy):
    def export(self, kind):
        status, out, said = ask("export", self.run_folder, kind)
        self.assertEqual((status, said), (0, ""))
        return out

    def scored(self):
        return [f for step in self.document()["steps"] for f in step["figures"] if f["verdict"]]

    def test_junit_is_what_its_common_schema_asks_for_and_counts_right(self):
        figure = self.failed()
        ask("accept", self.run_folder, figure["id"], "--because", "as <agreed> & signed", "--by", "ben")
        out = self.export("--junit")
        path = os.path.join(self.folder, "junit.xml")
        with open(path, "w", encoding="utf-8") as file:
            file.write(out)
        suites = ElementTree.fromstring(out.encode())
        self.assertEqual(mistakes_of_junit(suites), [])
        suite = suites[0]
        self.assertRegex(suite.get("timestamp"), r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d$")
        scored = self.scored()
        cases = suite.findall("testcase")
        self.assertEqual(len(cases), len(scored))
        self.assertEqual(len({case.get("name") for case in cases}), len(cases))
        self.assertEqual(int(suite.get("tests")), len(cases))
        failed = [case for case in cases if case.find("failure") is not None]
        self.assertEqual({case.get("name") for case in failed}, {f["id"] for f in scored if f["verdict"] == "fail"})
        self.assertEqual(int(suite.get("failures")), len(failed))
        self.assertEqual(int(suite.get("skipped")), len(suite.findall("testcase/skipped")))
        said = next(case for case in failed if case.get("name") == figure["id"]).find("failure").text
        self.assertIn("as <agreed> & signed", said)
        if shutil.which("xmllint"):
            subprocess.run(["xmllint", "--noout", path], check=True)

    def test_a_run_that_was_stopped_is_an_error_of_junit(self):
        path = os.path.join(self.run_folder, "run.json")
        document = self.document()
        document.update(state="stopped", verdict="stopped", stop_reason="a person <stopped> it")
        with open(path, "w", encoding="utf-8") as file:
            json.dump(document, file)
        suite = ElementTree.fromstring(self.export("--junit").encode())[0]
        self.assertEqual(mistakes_of_junit(suite), [])
        self.assertEqual(suite.get("errors"), "1")
        self.assertEqual(suite.find("testcase/error").get("message"), "a person <stopped> it")

    def test_csv_reads_back_and_begins_no_formula(self):
        path = os.path.join(self.run_folder, "run.json")
        document = self.document()
        evil = ['=HYPERLINK("http://x")', "+1", "-1", "@x", 'a "quoted", one\nmore']
        for figure, label in zip(self.scored(), evil):
            for step in document["steps"]:
                for each in step["figures"]:
                    if each["id"] == figure["id"]:
                        each["label"] = label
        with open(path, "w", encoding="utf-8") as file:
            json.dump(document, file)
        out = subprocess.run(
            [os.environ["AFTERLOAD"], "export", self.run_folder, "--csv"], capture_output=True, check=True
        ).stdout.decode()
        # RFC 4180: lines end in CRLF, every record has as many fields as the head.
        self.assertTrue(out.endswith("\r\n"))
        rows = list(csv.reader(io.StringIO(out, newline=""), strict=True))
        figures = [f for step in document["steps"] for f in step["figures"]]
        self.assertEqual(len(rows), len(figures) + 1)
        self.assertEqual({len(row) for row in rows}, {len(rows[0])})
        self.assertIn(evil[4], [row[3] for row in rows])
        value = rows[0].index("value_si")
        for row, figure in zip(rows[1:], figures):
            self.assertEqual(float(row[value]) if row[value] else None, figure["value"])
            for place, cell in enumerate(row):
                if place != value and cell[:1] in "=+-@" and cell:
                    self.assertRegex(cell, r"^-?[0-9.e+-]+$", rows[0][place])

    def test_openmetrics_is_its_grammar_and_holds_every_value(self):
        out = self.export("--openmetrics")
        self.assertTrue(out.endswith("# EOF\n"))
        label = r'[a-z_]+="(?:[^"\\\n]|\\["\\n])*"'
        sample = re.compile(r"([a-z_:]+)\{(%s(?:,%s)*)\} (\S+)$" % (label, label))
        types, seen, values = {}, set(), {}
        for line in out.splitlines()[:-1]:
            if line.startswith("# TYPE "):
                _, _, family, kind = line.split(" ")
                self.assertNotIn(family, types)
                types[family] = kind
                continue
            if line.startswith("# HELP "):
                self.assertIn(line.split(" ")[2], types)
                continue
            found = sample.match(line)
            self.assertIsNotNone(found, line)
            name, labels, number = found.groups()
            family = name.removesuffix("_info")
            self.assertEqual(types.get(name, types.get(family)), "info" if name.endswith("_info") else "gauge")
            self.assertNotIn((name, labels), seen)
            seen.add((name, labels))
            float(number)
            if name == "afterload_figure_value":
                values[re.search(r'id="((?:[^"\\]|\\.)*)"', labels).group(1)] = float(number)
        expected = {
            figure["id"]: figure["value"]
            for step in self.document()["steps"]
            for figure in step["figures"]
            if figure["value"] is not None
        }
        self.assertEqual(values, expected)

    def test_json_is_the_run_itself(self):
        self.assertEqual(json.loads(self.export("--json")), self.document())

    def test_none_or_two_formats_are_a_mistake(self):
        for words in ((), ("--csv", "--junit")):
            status, _, said = ask("export", self.run_folder, *words)
            self.assertEqual(status, 64)
            self.assertIn("--openmetrics", said)


if __name__ == "__main__":
    unittest.main()

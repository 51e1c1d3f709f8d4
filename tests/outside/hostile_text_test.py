"""Text from outside (names, labels, prompts, notes) with markup, control characters, a formula's first
character, ten thousand characters or marks that turn the writing round: none of it reaches a page, a table or a
terminal as more than text.
"""

import csv
import html.parser
import io
import json
import os
import re
import shutil
import tempfile
import unittest
import xml.etree.ElementTree

from shared_runs import ask, fixture, mended, received

MARKUP = '<script>alert(1)</script><img src=x onerror=alert(2)>"\'&</title></style></table>-->'
CONTROL = "\x1b[2J\x1b]0;taken\x07\x00\x08\r\x9b31m\x7f"
TURNED = "\u202eevil\u202d\u2066\u2067\u2068\u2069\u200f\u061c"
LONG = "x" * 10000
FORMULAS = ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1")
TEXTS = {"markup": MARKUP, "control": CONTROL, "turned": TURNED, "long": LONG, "formula": FORMULAS[0] + MARKUP}

# What moves a terminal or turns its writing; the line break alone is meant.
MOVES = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def taken_over(document, text):
    """The document with `text` in every place that holds a person's or a file's words."""
    document["unit"].update(maker="M" + text, model="H" + text)
    document["job"] = text
    document["bench"]["name"] = text
    document["sequence"].update(name=text, title=text)
    document["notes"] = ["note: " + text, text]
    document["not_tested"] = [text]
    document["stop_reason"] = text
    document["decision_rule"] = text
    for step in document["steps"]:
        step["name"] = text
        step["group"] = text + step["group"]
        step["group_conditions"] = text
        for figure in step["figures"]:
            figure["label"] = text + figure["label"]
            figure["reason"] = text if figure.get("verdict") else None
            if "rating" in figure:
                figure["rating"]["origin"] = text
            if figure.get("reason") is None:
                figure.pop("reason")
    for spectrum in document["spectra"]:
        spectrum["title"] = text + spectrum["title"]
    return document


class Page(html.parser.HTMLParser):
    """What a browser would do with a page: tags, handlers, addresses."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.handlers, self.addresses = set(), [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.add(tag)
        for name, value in attributes:
            if name.startswith("on"):
                self.handlers.append(name)
            if name in ("src", "href", "xlink:href") and not (value or "").startswith("#"):
                self.addresses.append(value)


class HostileText(unittest.TestCase):
    def setUp(self):
        self.runs = tempfile.mkdtemp()
        self.addCleanup(shutil.rmtree, self.runs)

    def run_with(self, text, source=None):
        """Folder of a run that holds `text` wherever a text can stand."""
        folder = os.path.join(self.runs, "run")
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(source or received(), folder)
        path = os.path.join(folder, "run.json")
        with open(path, encoding="utf-8") as file:
            document = json.load(file)
        document["id"] = "run"
        with open(path, "w", encoding="utf-8") as file:
            json.dump(taken_over(document, text), file)
        return folder

    def held(self, out, where, widest=None):
        found = MOVES.search(out)
        self.assertIsNone(found, f"{where}: {found!r} in {out[max(0, found.start() - 40):][:120] if found else ''!r}")
        if widest:
            lines = [line for line in out.splitlines() if self.runs not in line]
            self.assertLessEqual(max(map(len, lines), default=0), widest, where)

    def test_no_terminal_is_moved_by_it(self):
        for name, text in TEXTS.items():
            folder = self.run_with(text)
            for words in (
                ["show", folder], ["list", "--runs", self.runs], ["search", "THD", "--runs", self.runs],
                ["compare", folder, mended(), "--other-units"], ["history", "40-0117", "--runs", self.runs],
                ["statistics", "H" + text[:2000].replace("\0", ""), "--stage", "as_received", "--runs", self.runs],
                ["report", folder], ["export", folder, "--openmetrics"],
            ):  # fmt: skip
                with self.subTest(text=name, command=words[0]):
                    status, out, said = ask(*words)
                    self.assertIn(status, (0, 1, 2, 65, 66), said[:300])
                    widest = 80 if words[0] in ("show", "compare", "history", "statistics") else None
                    self.held(out, f"{words[0]}, {name}", widest)
                    self.held(said, f"{words[0]}, {name}")
                    self.assertLess(len(out) + len(said), 200_000)

    def test_no_page_takes_it_for_markup(self):
        for name, text in TEXTS.items():
            folder = self.run_with(text)
            for words in ([], ["--before", mended()]):
                with self.subTest(text=name, beside=bool(words)):
                    status, _, said = ask("report", folder, *words)
                    if status == 64:  # of another unit by its name
                        continue
                    self.assertEqual(status, 0, said[:300])
                    with open(os.path.join(folder, "report.html"), encoding="utf-8") as file:
                        written = file.read()
                    page = Page(written)
                    self.assertEqual(page.tags & {"script", "img", "iframe", "object", "link", "form"}, set())
                    self.assertEqual((page.handlers, page.addresses), ([], []))
                    self.assertIsNone(re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f]", written))
                    # What turns the writing is isolated or gone; a text of any length is cut.
                    self.assertIsNone(re.search("[\u202a-\u202e]", written))
                    self.assertNotIn("x" * 2001, written)

    def test_no_table_begins_a_formula_with_it_and_every_cell_comes_back(self):
        for text in (*FORMULAS, MARKUP, CONTROL, TURNED):
            with self.subTest(text=text):
                folder = self.run_with(text)
                self.assertEqual(ask("report", folder)[0], 0)
                status, out, said = ask("export", folder, "--csv")
                self.assertEqual(status, 0, said[:300])
                with open(os.path.join(folder, "figures.csv"), encoding="utf-8", newline="") as file:
                    for whole in (out, file.read()):
                        rows = list(csv.reader(io.StringIO(whole)))
                        self.assertGreater(len(rows), 10)
                        self.assertEqual({len(row) for row in rows}, {len(rows[0])})
                        for cell in (cell for row in rows[1:] for cell in row if cell):
                            number = re.fullmatch(r"-?[\d.]+(e[+-]?\d+)?", cell)
                            self.assertTrue(number or cell[0] not in "=+-@\t\r", cell[:60])
                            self.assertIsNone(re.search("[\x00\x1b\x9b]", cell))

    def test_documents_of_other_programs_hold_it_as_text(self):
        for name, text in TEXTS.items():
            with self.subTest(text=name):
                folder = self.run_with(text)
                status, out, said = ask("export", folder, "--junit")
                self.assertEqual(status, 0, said[:300])
                root = xml.etree.ElementTree.fromstring(out)
                self.assertEqual({each.tag for each in root.iter()} - {
                    "testsuites", "testsuite", "testcase", "failure", "skipped", "properties", "property", "error",
                    "system-out", "system-err",
                }, set())  # fmt: skip
                out = ask("export", folder, "--json")[1]
                self.assertEqual(json.loads(out)["job"], text)
                self.held(out, "json")

    def test_prompts_and_titles_of_a_sequence_do_not_move_the_terminal_that_asks(self):
        def quoted(text):
            return json.dumps(text)

        for name, text in TEXTS.items():
            with self.subTest(text=name):
                path = os.path.join(self.runs, "asks.sequence.yaml")
                with open(path, "w", encoding="utf-8") as file:
                    file.write(
                        f"afterload: sequence/1\ntitle: {quoted('T' + text)}\nsteps:\n"
                        f"  - name: {quoted('n' + text)}\n    prompt:\n      title: {quoted('P' + text)}\n"
                        f"      checks: [{quoted('c' + text)}]\n"
                        "    signal: silence\n    record: 0.5 s\n    figures: [hum_voltage]\n"
                    )
                status, out, said = ask(
                    "run", path, "--unit", fixture("units/hollinfay-h40.rating.yaml"),
                    "--house", fixture("house.rating.yaml"), "--bench", fixture("benches/north.bench.yaml"),
                    "--serial", "40-0117" + text.replace("\0", "")[:100], "--runs", os.path.join(self.runs, "new"),
                    input="done\n" * 5,
                )  # fmt: skip
                self.held(out, "sheet")
                self.held(said.replace("\r", ""), "prompt")
                self.assertIn(status, (0, 1, 2, 3, 64, 65), said[:300])


class DamagedFolder(unittest.TestCase):
    """A run's folder that was edited, cut or lacks a file: named, shown as far as it goes, never scored anew as
    if it were whole.
    """

    def setUp(self):
        self.runs = tempfile.mkdtemp()
        self.addCleanup(shutil.rmtree, self.runs)
        self.folder = os.path.join(self.runs, "run")
        shutil.copytree(received(), self.folder)

    def files(self, role=None):
        with open(os.path.join(self.folder, "run.json"), encoding="utf-8") as file:
            document = json.load(file)
        if role:
            return [each["path"] for each in document["files"] if each["role"] == role]
        return [record["path"] for step in document["steps"] for record in step["records"]]

    def refused(self, named, shown=True):
        """Nothing computes anew from it, each names what is wrong, and its sheet is still shown."""
        rating = fixture("units/hollinfay-h40.rating.yaml")
        before = sorted(os.listdir(self.folder))
        for words in (["rescore", self.folder, "--unit", rating], ["replay", self.folder]):
            status, out, said = ask(*words)
            self.assertEqual(status, 65, f"{words[0]}: {out[-300:]}{said}")
            self.assertIn(named, out + said, words[0])
        self.assertEqual(sorted(os.listdir(self.folder)), before, "something was written beside it")
        status, out, said = ask("compare", self.folder, mended())
        self.assertIn(named, out + said)
        status, out, said = ask("show", self.folder)
        self.assertEqual(status, 1 if shown else 65, said)
        self.assertIn("40-0117" if shown else named, out + said)

    def test_a_record_that_is_gone(self):
        gone = self.files()[3]
        os.remove(os.path.join(self.folder, gone))
        self.refused(gone)

    def test_a_record_that_was_cut(self):
        cut = self.files()[2]
        path = os.path.join(self.folder, cut)
        os.truncate(path, os.path.getsize(path) // 2)
        self.refused(cut)

    def test_a_record_in_which_a_bit_was_turned(self):
        turned = self.files()[1]
        path = os.path.join(self.folder, turned)
        with open(path, "r+b") as file:
            file.seek(os.path.getsize(path) // 2)
            byte = file.read(1)
            file.seek(-1, os.SEEK_CUR)
            file.write(bytes([byte[0] ^ 1]))
        self.refused(turned)

    def test_a_rating_sheet_that_was_edited(self):
        (sheet,) = self.files("rating")
        with open(os.path.join(self.folder, sheet), "a", encoding="utf-8") as file:
            file.write("# 0.1 % would do\n")
        self.refused(sheet)

    def test_a_run_document_that_was_cut(self):
        path = os.path.join(self.folder, "run.json")
        os.truncate(path, os.path.getsize(path) // 2)
        self.refused("run.json", shown=False)
        status, _, said = ask("list", "--runs", self.runs)
        self.assertEqual(status, 0)
        self.assertIn("run.json", said)

    def test_a_verdict_that_was_written_by_hand(self):
        path = os.path.join(self.folder, "run.json")
        with open(path, encoding="utf-8") as file:
            text = file.read()
        self.assertIn('"verdict": "fail"', text)
        with open(path, "w", encoding="utf-8") as file:
            file.write(re.sub(r'^  "verdict": "fail"', '  "verdict": "pass"', text, flags=re.M))
        status, out, said = ask("show", self.folder)
        self.assertEqual(status, 65)
        self.assertIn("the file was edited", out + said)


if __name__ == "__main__":
    unittest.main()

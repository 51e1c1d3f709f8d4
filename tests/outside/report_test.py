"""The report of a run, opened and printed by a browser: one page that needs nothing else, its sheet and
its plots as text and lines, legible on paper.
"""

import glob
import os
import re
import subprocess
import tempfile
import unittest

from analyze import PROGRAM

ROOT = os.path.realpath(os.path.join(os.path.dirname(__file__), "..", ".."))


def report(folder):
    """Runs the quick check on the faulty unit; the path of its report."""
    done = subprocess.run(
        [
            PROGRAM, "run", os.path.join(ROOT, "sequences", "shipped", "quick-check.sequence.yaml"),
            "--unit", os.path.join(ROOT, "fixtures", "units", "hollinfay-h40.rating.yaml"),
            "--house", os.path.join(ROOT, "fixtures", "house.rating.yaml"),
            "--bench", os.path.join(ROOT, "fixtures", "benches", "north-as-received.bench.yaml"),
            "--serial", "40-0117", "--stage", "as_received", "--assume-prompts", "--runs", folder,
        ],
        capture_output=True, text=True, timeout=600,
    )  # fmt: skip
    found = glob.glob(os.path.join(folder, "*", "report.html"))
    if done.returncode != 1 or len(found) != 1:
        raise RuntimeError(f"status {done.returncode}, {found}\n{done.stdout}{done.stderr}")
    return found[0]


def printed(path, folder):
    """The report as a browser prints it, to PDF."""
    pdf = os.path.join(folder, "report.pdf")
    subprocess.run(
        ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={folder}/browser", f"--print-to-pdf={pdf}", f"file://{path}"],
        check=True, capture_output=True, timeout=180, env=dict(os.environ, HOME=folder),
    )  # fmt: skip
    return pdf


class Report(unittest.TestCase):
    def test_it_stands_alone_and_prints_with_its_figures_as_text_and_its_plots_as_lines(self):
        with tempfile.TemporaryDirectory() as folder:
            path = report(folder)
            with open(path, encoding="utf-8") as file:
                page = file.read()
            fetched = re.findall(r"(?:src|href)\s*=\s*[\"'](?!#|data:)([^\"']+)", page)
            self.assertEqual([each for each in fetched if "//" in each], [])
            self.assertNotRegex(page, r"url\(\s*['\"]?https?:|@import")
            pdf = printed(path, folder)
            text = subprocess.run(
                ["pdftotext", "-layout", pdf, "-"], check=True, capture_output=True, text=True
            ).stdout
            images = subprocess.run(
                ["pdfimages", "-list", pdf], check=True, capture_output=True, text=True
            ).stdout
        for word in ("Hollinfay", "H40", "40-0117", "Hz", "fail"):
            self.assertIn(word.lower(), text.lower())
        self.assertEqual(len(images.strip().splitlines()), 2, "a plot is a picture and not lines")


if __name__ == "__main__":
    unittest.main()

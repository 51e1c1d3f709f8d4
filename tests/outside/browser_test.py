"""The report in a real browser, driven through WebDriver, opened from the disk with the network off: on a
screen of 1280 and of 360 pixels, light and dark, and printed on both papers.
"""

import base64
import json
import os
import re
import shutil
import subprocess
import tempfile
import unittest

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from shared_runs import ask, mended, received

WIDTHS = (1280, 360)
PAPERS = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
FACTORS = {"": 1.0, "%": 1e-2, "mV": 1e-3, "µV": 1e-6, "V": 1.0, "dB": 1.0, "W": 1.0, "mW": 1e-3, "Hz": 1.0,
           "kHz": 1e3, "°C": 1.0, "1/s": 1.0, "mA": 1e-3, "A": 1.0, "Ω": 1.0}  # fmt: skip

# Text over its ground by WCAG 2.2, 1.4.3; what is drawn (points, lines, bars) by 1.4.11.
CONTRAST = r"""
const number = (text) => text.match(/[\d.]+/g).map(Number);
const luminance = (rgb) => {
    const [r, g, b] = rgb.slice(0, 3).map((c) => c / 255).map((c) => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const ground = (element) => {
    for (let at = element; at; at = at.parentElement) {
        const colour = number(getComputedStyle(at).backgroundColor);
        if (colour.length < 4 || colour[3] > 0) return colour;
    }
    return [255, 255, 255];
};
const ratio = (a, b) => { const [x, y] = [luminance(a), luminance(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
const shown = (element) => element.checkVisibility({checkOpacity: true, checkVisibilityCSS: true});
const poor = [];
const seen = {text: 0, drawn: 0};
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    if (!node.data.trim() || !shown(element) || element.closest("title, desc, style, defs")) continue;
    const style = getComputedStyle(element);
    const colour = number(element instanceof SVGElement ? style.fill : style.color);
    const found = ratio(colour, ground(element));
    ++seen.text;
    if (found < 4.5) poor.push([found.toFixed(2), node.data.trim().slice(0, 40), element.className.baseVal ?? element.className]);
}
for (const element of document.querySelectorAll(".curve, .filled, .hollow, .stem, .limit, .mark line, .ring")) {
    if (!shown(element) || element.closest("symbol, defs")) continue;
    const style = getComputedStyle(element);
    const ink = style.stroke !== "none" ? style.stroke : style.fill;
    if (!ink.startsWith("rgb")) continue;
    const found = ratio(number(ink), ground(element.closest("svg").parentElement));
    ++seen.drawn;
    if (found < 3) poor.push([found.toFixed(2), element.outerHTML.slice(0, 60), ""]);
}
return {poor, seen};
"""

# What a reader's program needs: each wrong thing in words.
STRUCTURE = r"""
const wrong = [];
const say = (what, element) => wrong.push(what + ": " + (element ? element.outerHTML.slice(0, 120) : ""));
if (document.documentElement.lang !== "en") say("no language");
if (!document.title.trim()) say("no title");
if (document.querySelectorAll("main").length !== 1) say("not one main");
if (document.querySelectorAll("h1").length !== 1) say("not one h1");
let level = 0;
for (const heading of document.querySelectorAll("h1, h2, h3, h4, h5, h6")) {
    const own = Number(heading.tagName[1]);
    if (own > level + 1) say("a heading that skips a level", heading);
    if (!heading.textContent.trim()) say("an empty heading", heading);
    level = own;
}
const ids = [...document.querySelectorAll("[id]")].map((element) => element.id);
if (new Set(ids).size !== ids.length) say("an id that stands twice");
for (const element of document.querySelectorAll("[aria-labelledby], [aria-describedby], use[href], a[href]")) {
    const named = (element.getAttribute("aria-labelledby") ?? "") + " " + (element.getAttribute("aria-describedby") ?? "") +
        " " + (element.getAttribute("href") ?? "").replace(/^#/, "");
    for (const id of named.split(/\s+/).filter(Boolean)) if (!document.getElementById(id)) say("names what is not there, " + id, element);
}
for (const svg of document.querySelectorAll("svg")) {
    if (svg.parentElement.closest("svg") || svg.classList.contains("symbols")) continue;
    if (svg.getAttribute("aria-hidden") === "true") continue;
    const name = svg.getAttribute("aria-label") ?? svg.querySelector("title")?.textContent ?? "";
    if (svg.getAttribute("role") !== "img" || !name.trim()) say("a picture without a name", svg);
}
const drawn = new Set(["title", "desc", "path", "line", "circle", "rect", "text", "tspan", "use", "g", "svg", "polygon", "defs", "pattern", "symbol"]);
for (const element of document.querySelectorAll("svg *")) if (!drawn.has(element.tagName)) say("no browser draws this", element);
for (const table of document.querySelectorAll("table")) {
    if (!table.caption?.textContent.trim()) say("a table without a caption", table);
    for (const th of table.querySelectorAll("th")) {
        if (!th.textContent.trim()) say("an empty table header", th);
        if (!th.scope) say("a table header without a scope", th);
    }
    for (const row of table.tBodies[0] ? [...table.tBodies].flatMap((body) => [...body.rows]) : []) {
        const columns = [...row.cells].reduce((sum, cell) => sum + cell.colSpan, 0);
        const head = table.tHead ? table.tHead.rows[0].cells.length : columns;
        if (columns !== head) say("a row of " + columns + " cells under " + head, row);
    }
}
return wrong;
"""

# What stands out of the page's width; cut text; and every plot with what is drawn in it.
LAYOUT = r"""
const wrong = [];
const width = document.documentElement.clientWidth;
if (document.documentElement.scrollWidth > width) wrong.push("the page scrolls sideways: " + document.documentElement.scrollWidth);
for (const element of document.querySelectorAll("main *")) {
    if (!element.checkVisibility() || element.closest(".unseen, thead, details, defs, symbol")) continue;
    const box = element.getBoundingClientRect();
    if (box.width && (box.right > width + 1 || box.left < -1)) wrong.push("stands out: " + element.outerHTML.slice(0, 100));
}
return wrong;
"""

PLOTS = r"""
return [...document.querySelectorAll("figure")].map((figure) => {
    const svgs = [...figure.querySelectorAll("svg.plot")].filter((svg) => svg.checkVisibility());
    const svg = svgs[0];
    const view = svg.viewBox.baseVal;
    const inside = (box) => box.x > -2 && box.y > -2 && box.x + box.width < view.width + 2 && box.y + box.height < view.height + 2;
    const texts = [...svg.querySelectorAll("text")].filter((text) => text.checkVisibility());
    const drawn = [...svg.querySelectorAll(".curve, .stem, .noise, .filled, .hollow, .dot")].filter((one) => one.checkVisibility());
    return {
        title: figure.querySelector("h3").textContent,
        shown: svgs.length,
        described: svg.querySelector("desc").textContent,
        caption: figure.querySelector("figcaption").textContent,
        marks: drawn.length,
        bad: drawn.filter((one) => /NaN|Infinity|undefined/.test(one.outerHTML)).length,
        outside: [...drawn, ...texts].filter((one) => !inside(one.getBBox())).map((one) => one.outerHTML.slice(0, 100)),
        points: svg.querySelectorAll("circle.filled.left:not(.before)").length,
        rows: figure.querySelectorAll("table.numbers tbody tr").length,
        left: [...figure.querySelectorAll("table.numbers thead th")].findIndex((th) => th.textContent.startsWith("left")),
        readings: [...figure.querySelectorAll("table.numbers tbody tr")].map((row) => [...row.cells].map((cell) => cell.textContent)),
    };
});
"""


def as_written(label):
    """A label as the page begins a row with it."""
    return label[:1].upper() + label[1:]


def page_with_an_earlier_run(folder):
    """The report of the mended unit beside the run as it was received; its path and the run's document."""
    run = os.path.join(folder, "run")
    shutil.copytree(mended(), run)
    status, out, said = ask("report", run, "--before", received())
    if status:
        raise AssertionError(out + said)
    with open(os.path.join(run, "run.json"), encoding="utf-8") as file:
        return os.path.join(run, "report.html"), json.load(file)


class ReportInABrowser(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.mkdtemp()
        cls.addClassCleanup(shutil.rmtree, cls.folder, ignore_errors=True)
        cls.page, cls.run_document = page_with_an_earlier_run(cls.folder)
        options = Options()
        options.binary_location = shutil.which("chromium")
        for word in ("--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
                     f"--user-data-dir={cls.folder}/browser"):  # fmt: skip
            options.add_argument(word)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        cls.browser = webdriver.Chrome(
            service=Service(shutil.which("chromedriver"), env=dict(os.environ, HOME=cls.folder)), options=options
        )
        cls.addClassCleanup(cls.browser.quit)
        offline = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
        cls.browser.execute_cdp_cmd("Network.enable", {})
        cls.browser.execute_cdp_cmd("Network.emulateNetworkConditions", offline)

    def opened(self, width, dark=False):
        look = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False}
        self.browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", look)
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})
        self.browser.get_log("performance")
        self.browser.get("file://" + self.page)
        return self.browser

    def test_it_opens_with_the_network_off_asks_for_nothing_and_complains_of_nothing(self):
        for width in WIDTHS:
            for dark in (False, True):
                browser = self.opened(width, dark)
                asked = [
                    message["params"]["request"]["url"]
                    for message in (json.loads(entry["message"])["message"] for entry in browser.get_log("performance"))
                    if message["method"] == "Network.requestWillBeSent"
                ]
                self.assertEqual(asked, ["file://" + self.page])
                self.assertEqual(browser.get_log("browser"), [])
                self.assertEqual(browser.execute_script(LAYOUT), [], f"at {width} pixels")

    def test_every_plot_has_its_data_and_its_numbers(self):
        for width in WIDTHS:
            plots = self.opened(width).execute_script(PLOTS)
            self.assertGreaterEqual(len(plots), 4)
            for plot in plots:
                with self.subTest(plot=plot["title"], width=width):
                    self.assertEqual(plot["shown"], 1)
                    self.assertGreater(plot["marks"], 1)
                    self.assertEqual((plot["bad"], plot["outside"]), (0, []))
                    self.assertTrue(plot["described"].strip() and plot["caption"].strip())
                    self.assertGreater(plot["rows"], 0)
                    if plot["title"].startswith("Distortion against"):
                        # A reading with a number is a point; one below the floor is an arrow.
                        read = [row[plot["left"]] for row in plot["readings"]]
                        points = [each for each in read if re.match(r"[\d.]+$", each)]
                        self.assertGreaterEqual(plot["points"], len(points))
                        self.assertGreater(len(points), 0)

    def test_the_sheet_says_what_the_run_measured(self):
        """Each row's number and word against run.json, to the last digit that is written."""
        browser = self.opened(1280)
        rows = browser.execute_script(
            "return [...document.querySelectorAll('table.sheet tbody.figure')].map((body) => "
            "[...body.rows[0].cells].map((cell) => [...cell.childNodes]"
            ".filter((n) => !(n.classList?.contains('narrow-only'))).map((n) => n.textContent).join('\\t')))"
        )
        figures = [f for step in self.run_document["steps"] for f in step["figures"]]
        scored = [f for f in figures if f.get("verdict")]
        self.assertGreater(len(scored), 10)
        words = {}
        checked = 0
        for cells in rows:
            label = " ".join(cells[0].split("\t")[0].split())
            word = cells[6].strip().split("\t")[-2 if "\t" in cells[6].strip() else -1]
            words[label] = word
            symbol = re.sub(r"^±?\s*[\d.−]*(\s*and\s*[\d.]+)?", "", cells[3].split("\t")[0].replace("\u202f", " ")).strip()
            for channel, text in ((1, cells[1]), (2, cells[2])):
                number = text.split("\t")[-1].replace("−", "-").replace("\u202f", "").replace("+", "")
                if not re.match(r"^-?[\d.]+$", number) or symbol not in FACTORS:
                    continue
                digits = len(number.partition(".")[2])
                fit = [
                    f for f in figures
                    if f.get("value") is not None and as_written(f["label"]) == label and f.get("channel", 0) in (channel, 0)
                    and abs(f["value"] / FACTORS[symbol] - float(number)) <= 0.5001 * 10.0**-digits
                ]  # fmt: skip
                self.assertTrue(fit, f"{label}: {number} {symbol} of channel {channel} is no figure of the run")
                checked += 1
        self.assertGreater(checked, 20)
        for figure in scored:
            self.assertIn(as_written(figure["label"]), words)
            if figure["verdict"] == "fail":
                self.assertEqual(words[as_written(figure["label"])], "fail")
        plain = {as_written(f["label"]) for f in scored}
        plain -= {as_written(f["label"]) for f in scored if f["verdict"] != "pass"}
        for label in plain:
            self.assertEqual(words[label], "pass", label)

    def test_it_prints_whole_on_both_papers_the_customers_page_first(self):
        headline = self.opened(1280).find_element(By.ID, "figures").text
        labels = {f["label"] for step in self.run_document["steps"] for f in step["figures"] if f.get("verdict")}
        for paper, (width, height) in PAPERS.items():
            printed = self.browser.execute_cdp_cmd(
                "Page.printToPDF",
                {"preferCSSPageSize": True, "printBackground": True, "paperWidth": width, "paperHeight": height},
            )
            pdf = os.path.join(self.folder, f"{paper}.pdf")
            with open(pdf, "wb") as file:
                file.write(base64.b64decode(printed["data"]))
            pages = self.told("pdftotext", "-layout", pdf, "-").split("\f")
            squeezed = [" ".join(page.split()) for page in pages]
            self.assertIn("Hollinfay H40", squeezed[0])
            self.assertIn("rated", squeezed[0])
            self.assertNotIn(headline, squeezed[0], "the sheet begins on a page of its own")
            self.assertIn(headline, squeezed[1])
            for label in labels:
                self.assertTrue(any(as_written(label) in page for page in squeezed[1:]), label)
            boxes = re.findall(
                r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">([^<]*)',
                self.told("pdftotext", "-bbox", pdf, "-"),
            )
            self.assertGreater(len(boxes), 500)
            over = [b for b in boxes if float(b[0]) < 30 or float(b[2]) > 72 * width - 30 or float(b[3]) > 72 * height]
            self.assertEqual(over, [], f"runs over the edge of {paper}")
            images = self.told("pdfimages", "-list", pdf).strip().splitlines()
            self.assertEqual(len(images), 2, "a plot is a picture and not lines")

    def test_it_can_be_read_by_everybody(self):
        for width in WIDTHS:
            for dark in (False, True):
                browser = self.opened(width, dark)
                self.assertEqual(browser.execute_script(STRUCTURE), [])
                found = browser.execute_script(CONTRAST)
                self.assertGreater(found["seen"]["text"], 200)
                self.assertGreater(found["seen"]["drawn"], 50)
                self.assertEqual(found["poor"], [], f"{width} pixels, {'dark' if dark else 'light'}")

    def test_the_checks_find_what_they_look_for(self):
        """Planted: pale text, a header without words, a picture without a name, a table too wide."""
        browser = self.opened(360)
        browser.execute_script(
            "document.querySelector('.sub').style.color = '#cccccc';"
            "document.querySelector('table.sheet th').textContent = '';"
            "document.querySelector('svg.scale').removeAttribute('aria-label');"
            "document.querySelector('.statement').style.width = '900px'"
        )
        self.assertIn("Stage", "".join(text for _, text, _ in browser.execute_script(CONTRAST)["poor"]))
        wrong = "\n".join(browser.execute_script(STRUCTURE))
        self.assertIn("an empty table header", wrong)
        self.assertIn("a picture without a name", wrong)
        self.assertIn("sideways", "\n".join(browser.execute_script(LAYOUT)))

    @unittest.skipUnless(os.environ.get("AFTERLOAD_AXE"), "AFTERLOAD_AXE names no axe.min.js")
    def test_axe_finds_no_violation(self):
        with open(os.environ["AFTERLOAD_AXE"], encoding="utf-8") as file:
            axe = file.read()
        self.browser.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
        for width in WIDTHS:
            browser = self.opened(width)
            browser.execute_script(axe)
            found = browser.execute_async_script(
                "const done = arguments[arguments.length - 1]; axe.run(document).then((r) => done(r.violations))"
            )
            self.assertEqual([(each["id"], [node["html"] for node in each["nodes"]]) for each in found], [])

    @staticmethod
    def told(*words):
        return subprocess.run(words, check=True, capture_output=True, text=True).stdout


if __name__ == "__main__":
    unittest.main()

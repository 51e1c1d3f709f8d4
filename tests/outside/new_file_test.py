"""Rating sheets, jobs and sequences that are asked for: through a pipe, as a script would answer, and
through a pseudo-terminal, as a person does. What is written is held against `afterload check` and
against the JSON schema that an editor uses.

How sheets print their figures is common practice of the trade; the numbers are computed here.
"""

import fcntl
import json
import os
import pty
import re
import select
import signal
import struct
import subprocess
import tempfile
import termios
import time
import unittest

import jsonschema
import yaml

from analyze import PROGRAM

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
UNIT = os.path.join(ROOT, "fixtures/units/hollinfay-h40.rating.yaml")

# The unit of all sheets here, invented; terminals are choice 2, common, and no output transformer.
UNIT_ANSWERS = ["Hollinfay", "H45", "line, phono", "speaker_a, pre_out", "2", "", "230 V", "50 Hz", "3"]
FIGURES = [
    "output power", "total harmonic distortion", "intermodulation", "response", "power bandwidth", "sensitivity",
    "overload", "gain", "output voltage", "signal to noise", "separation", "damping factor", "tone controls",
    "equalisation", "offset", "idle current", "rails"]  # fmt: skip
# Those of which a sheet may print several: after one they are asked for again.
SEVERAL = {"output power", "total harmonic distortion", "response", "sensitivity", "gain", "output voltage",
           "signal to noise", "separation", "tone controls", "rails"}  # fmt: skip

HOSTILE = ['H40 "A": #1 \'x\' {y} [z] & *a !b | > %', "- item", "bell \x07 and \x1b[2J clear", "turned \u202eround\u202c",
           "true", "1e3", "C:\\parts\\C712"]  # fmt: skip


def answers(**figures):
    """The answers to a whole sheet; a figure is a text or a list of texts and what is asked behind it."""
    lines = list(UNIT_ANSWERS)
    for figure in FIGURES:
        given = figures.pop(figure.replace(" ", "_"), [])
        given = [given] if isinstance(given, str) else given
        lines += given
        if figure in SEVERAL or not given:
            lines.append("")
    assert not figures, figures
    return lines + [""]


class EditorLoader(yaml.SafeLoader):
    """YAML 1.2 core, as editors read it: a date is a text and `yes` is a word."""


EditorLoader.yaml_implicit_resolvers = {}
EditorLoader.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile(r"^(?:true|false)$"), list("tf"))
EditorLoader.add_implicit_resolver("tag:yaml.org,2002:int", re.compile(r"^[-+]?(?:0|[1-9][0-9]*)$"),
                                   list("-+0123456789"))  # fmt: skip
EditorLoader.add_implicit_resolver("tag:yaml.org,2002:null", re.compile(r"^(?:~|null|)$"), ["~", "n", ""])


class NewFile(unittest.TestCase):
    kind = "rating"

    def setUp(self):
        kept = tempfile.TemporaryDirectory()
        self.addCleanup(kept.cleanup)
        self.folder = kept.name
        self.file = os.path.join(self.folder, f"asked.{self.kind}.yaml")
        # What the person running the tests keeps in a library of their own must not be found.
        self.environment = {**os.environ, "XDG_CONFIG_HOME": os.path.join(self.folder, "settings")}

    def ask(self, lines, *words, ended=False):
        """The program with these lines; with `ended` the input ends in the middle of the last."""
        text = "\n".join(lines) + ("" if ended else "\n")
        return subprocess.run([PROGRAM, "new", self.kind, self.file, *words], input=text.encode(), timeout=120,
                              capture_output=True, env=self.environment, cwd=self.folder)  # fmt: skip

    def asked(self, lines, *words):
        done = self.ask(lines, *words)
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
        return done.stderr.decode()

    def text(self):
        with open(self.file, encoding="utf-8") as file:
            return file.read()

    def document(self):
        return yaml.load(self.text(), Loader=EditorLoader)

    def accepted(self):
        """The file as read, after check and the schema have taken it."""
        done = subprocess.run([PROGRAM, "check", self.file], capture_output=True, text=True, timeout=120)
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr + self.text())
        document = self.document()
        with open(os.path.join(ROOT, f"sequences/schemas/{self.kind}.schema.json"), encoding="utf-8") as file:
            schema = json.load(file)
        found = [error.message for error in jsonschema.Draft7Validator(schema).iter_errors(document)]
        self.assertEqual(found, [], self.text())
        return document

    def nothing_was_written(self):
        self.assertFalse(os.path.exists(self.file))
        self.assertEqual([name for name in os.listdir(self.folder) if "asked" in name], [])


class NewRating(NewFile):
    def figures(self):
        return {each["id"]: each for each in self.accepted()["figures"]}

    def test_a_whole_sheet_in_one_go(self):
        told = self.asked(answers(
            output_power=["45 W + 45 W into 8 ohms, 20 Hz-20 kHz, 0.05 %", "60 W + 60 W into 4 ohms, 1 kHz, 1 %"],
            total_harmonic_distortion="0.05 % at rated power, 20-20,000 Hz",
            response="10 Hz-50 kHz, +0/-1.5 dB",
            power_bandwidth="5 Hz-60 kHz, half power, 0.1 %, 8 ohms",
            sensitivity=["line 150 mV/47 kohm for rated power", "±1.5 dB", "phono 2.5 mV/47 kohm for rated power"],
            overload="phono 150 mV, 0.1 %, 1 kHz",
            signal_to_noise=["phono 75 dB (IHF-A), shorted, re 5 mV, volume maximum",
                             "line 95 dB (IHF-A), shorted, re rated output, volume maximum, page 4"],
            separation="60 dB at 1 kHz, input shorted",
            damping_factor="50 at 1 kHz, 8 ohms",
            tone_controls=["bass ±10 dB at 100 Hz", "±3 dB", "treble ±10 dB at 10 kHz"],
            offset="0 ± 50 mV",
            idle_current="12 mV ± 3 mV across R733 (0.33 ohm), after 20 min",
            rails="36 V ±5 %"))  # fmt: skip
        self.assertIn("= output power at least 45 W: 8 Ω, both channels driven", told)
        figures = self.figures()
        self.assertEqual(len(figures), 18)
        power = figures["output_power"]
        self.assertEqual([power[key] for key in ("at_least", "load", "channels_driven", "thd", "tone_range", "source")],
                         ["45 W", "8 ohm", "both", "0.05 %", "20 Hz..20 kHz", "page 3"])  # fmt: skip
        self.assertEqual(figures["output_power_2"]["load"], "4 ohm")
        self.assertEqual(figures["thd"]["output_level"], "rated")
        self.assertEqual(figures["frequency_response"]["between"], "-1.5 dB..0 dB")
        self.assertEqual([figures["power_bandwidth"]["at_most"], figures["power_bandwidth_2"]["at_least"]],
                         ["5 Hz", "60 kHz"])  # fmt: skip
        # 150 mV over and times 10^(1.5/20), to four digits.
        self.assertEqual(figures["line_input_sensitivity"]["between"], "126.2 mV..178.3 mV")
        self.assertEqual(figures["phono_signal_to_noise"]["reference_level"], "5 mV in")
        self.assertEqual(figures["phono_signal_to_noise"]["weighting"], "A")
        # A page behind a figure holds for those that follow.
        self.assertEqual([figures[name]["source"] for name in ("phono_signal_to_noise", "line_signal_to_noise",
                                                               "supply_rail")], ["page 3", "page 4", "page 4"])  # fmt: skip
        self.assertEqual(figures["tone_range_error"]["tolerance"], "3 dB")
        self.assertEqual(figures["dc_offset"]["between"], "-50 mV..50 mV")
        # 9 mV and 15 mV over 0.33 ohm.
        self.assertEqual(figures["quiescent_current"]["between"], "27.27 mA..45.45 mA")
        self.assertIn("# printed: 45 W + 45 W into 8 ohms, 20 Hz-20 kHz, 0.05 %", self.text())
        self.assertIn("# beside it: input impedance 47 kohm", self.text())

    def test_a_missing_condition_is_asked_for_once(self):
        told = self.asked(answers(
            output_power=["45 W, 20 Hz-20 kHz, 0.05 %", "8 ohms", "both", "40 W, 40 Hz-16 kHz, 0.02 %"],
            total_harmonic_distortion=["0.05 %", "rated", "1 kHz", "0.03 % at 1 W"],
            separation=["60 dB", "shorted", "45 dB at 10 kHz"]))  # fmt: skip
        for words in ("Into which load", "Which channels were driven", "At which output", "At which frequency",
                      "Was the input shorted"):  # fmt: skip
            self.assertEqual(told.count(words), 1, words)
        figures = self.figures()
        self.assertEqual([figures[name]["load"] for name in ("output_power", "output_power_2")], ["8 ohm", "8 ohm"])
        self.assertEqual(figures["thd_2"]["output_level"], "1 W")
        self.assertEqual(figures["thd_2"]["frequency"], "1 kHz")
        self.assertEqual([figures["channel_separation"]["frequency"], figures["channel_separation_2"]["frequency"]],
                         ["1 kHz", "10 kHz"])  # fmt: skip
        self.assertEqual(figures["channel_separation_2"]["termination"], "shorted")
        self.assertIn("# load: not printed here; answered: 8 ohms", self.text())

    def test_what_the_sheet_does_not_say_stays_absent_and_is_asked_for_once(self):
        told = self.asked(answers(signal_to_noise=["phono 75 dB, shorted", "", "", "", "line 95 dB, shorted"]))
        self.assertEqual(told.count("Which weighting"), 1)
        self.assertEqual(told.count("What does it refer to"), 1)
        figures = self.figures()
        for name in ("phono_signal_to_noise", "line_signal_to_noise"):
            self.assertNotIn("weighting", figures[name])
            self.assertNotIn("reference_level", figures[name])
        self.assertIn("# weighting: not stated", self.text())

    def test_the_input_is_asked_for_where_there_are_several(self):
        told = self.asked(answers(sensitivity=["150 mV for rated power", "line", "±10 %", "2.5 mV for rated power", "phono"]))
        self.assertIn("Of which input: line, phono", told)
        figures = self.figures()
        self.assertEqual(figures["line_input_sensitivity"]["nominal"], "150 mV")
        self.assertEqual(figures["line_input_sensitivity"]["tolerance"], "15 mV")
        self.assertEqual(figures["phono_input_sensitivity"]["input"], "phono")

    def test_a_contradiction_of_gain_and_sensitivities_is_told_at_once_and_can_be_mended(self):
        # 150 mV over 2.5 mV is 35.6 dB (computed): a phono gain of 40 dB cannot be right.
        told = self.asked(answers(
            sensitivity=["line 150 mV for rated power", "", "phono 2.5 mV for rated power"],
            gain=["phono 40 dB ±1 dB", "1", "phono 35.5 dB ±1 dB"]))  # fmt: skip
        self.assertEqual(told.count("cannot both be right"), 1)
        self.assertLess(told.index("cannot both be right"), told.index("Output voltage"))
        self.assertIn("which is 35.56 dB", " ".join(told.split()))
        self.assertEqual(self.figures()["phono_gain"]["nominal"], "35.5 dB")
        self.assertNotIn("at odds", self.text())

    def test_the_other_figure_of_a_contradiction_can_be_typed_again(self):
        told = self.asked(answers(
            sensitivity=["line 150 mV for rated power", "", "phono 2.5 mV for rated power"],
            gain=["phono 40 dB ±1 dB", "2", "line 250 mV for rated power"]))  # fmt: skip
        self.assertIn("type line_input_sensitivity again", told)
        # 250 mV over 2.5 mV is 40 dB.
        self.assertEqual(self.figures()["phono_gain"]["nominal"], "40 dB")
        self.assertEqual(self.figures()["line_input_sensitivity"]["between"], "210.3 mV..297.1 mV")

    def test_power_from_volts_and_ohms_that_is_not_the_power_is_kept_with_a_word(self):
        # 15 V into 8 ohm is 28 W (computed), not 45 W.
        self.asked(answers(
            output_power="45 W + 45 W into 8 ohms, 1 kHz, 1 %", output_voltage=["15 V into 8 ohms, speaker_a", "3"]))  # fmt: skip
        self.assertEqual(len(self.figures()), 2)
        self.assertRegex(self.text(), r"# kept, though at odds: output_power says 45 W into 8 ohm, .* which is 28\.1")

    def test_an_unreadable_answer_is_asked_for_again_with_an_example(self):
        told = self.asked(answers(output_power=["about 45", "45", "?", "45 W + 45 W into 8 ohms, 1 kHz, 1 %"]))
        self.assertIn("“about” was not understood; write it as 45 W + 45 W into 8 ohms", " ".join(told.split()))
        self.assertIn("45 has no unit; write 45 W", told)
        self.assertEqual(told.count("Output power:"), 4)
        self.assertEqual(list(self.figures()), ["output_power"])

    def test_what_no_sheet_can_hold_is_asked_for_again(self):
        # A rating takes a distortion up to 100 %, and 126 h are no warm-up.
        lines = answers(output_power=["45 W + 45 W into 8 ohms, 1 kHz, 250 %", "45 W + 45 W into 8 ohms, 1 kHz", "250 %", "1 %"],
                        idle_current=["20-60 mA after 126 h", "20-60 mA after 20 min"])  # fmt: skip
        told = self.asked(["H" * 10000] + lines[:2] + [","] + lines[2:])
        self.assertIn("more than 200 bytes: shorten it", told)
        self.assertIn("at least one, as in line", told)
        self.assertEqual(self.figures()["output_power"]["thd"], "1 %")
        self.assertEqual(self.figures()["quiescent_current"]["warm_up"], "20 min")

    def test_an_end_between_the_figures_of_one_answer_loses_none(self):
        done = self.ask(UNIT_ANSWERS + ["45 W; 60 W into 4 ohms"])
        self.assertEqual(done.returncode, 3)
        self.accepted()
        self.assertIn("60 W into 4 ohms", self.text())

    def test_undo_takes_the_last_figure_back(self):
        told = self.asked(answers(output_power=["54 W + 54 W into 8 ohms, 1 kHz, 1 %", "undo", "45 W + 45 W into 8 ohms, 1 kHz, 1 %"]))
        self.assertIn("taken back: output power at least 54 W", told)
        self.assertEqual(self.figures()["output_power"]["at_least"], "45 W")

    def test_several_figures_in_one_answer_and_one_by_its_name(self):
        lines = answers(output_power="45 W + 45 W into 8 ohms, 1 kHz, 1 %; 60 W + 60 W into 4 ohms, 1 kHz, 1 %")
        self.asked(lines[:-1] + ["hiss", "hum voltage", "0.5 mV, volume minimum", ""])
        self.assertEqual(self.figures()["hum_voltage"]["at_most"], "500 uV")
        self.assertEqual(self.figures()["output_power_2"]["at_least"], "60 W")

    def test_an_end_in_the_middle_leaves_a_draft_that_is_gone_on_with(self):
        done = self.ask(UNIT_ANSWERS + ["45 W + 45 W into 8 ohms, 1 kHz, 1 %"])
        self.assertEqual(done.returncode, 3)
        self.assertIn("a draft with 1 rated figure; the answers ended at “Output power, another”", done.stdout.decode())
        self.assertTrue(self.text().startswith("# DRAFT: the answers ended at “Output power, another”"))
        self.assertEqual(list(self.figures()), ["output_power"])
        before = self.text().split("\n", 1)[1]
        rest = answers(separation="60 dB at 1 kHz, shorted")[len(UNIT_ANSWERS) - 1 :]
        self.asked(["2"] + rest)
        self.assertTrue(self.text().startswith(before), self.text())
        self.assertEqual(list(self.figures()), ["output_power", "channel_separation"])

    def test_a_draft_without_a_figure_is_gone_on_with(self):
        done = self.ask(UNIT_ANSWERS)
        self.assertEqual(done.returncode, 3)
        self.assertEqual(self.document()["figures"], [])
        self.asked(["2"] + answers(separation="60 dB at 1 kHz, shorted")[len(UNIT_ANSWERS) - 1 :])
        self.assertEqual(list(self.figures()), ["channel_separation"])

    def test_an_end_in_any_question_loses_nothing_that_was_given(self):
        whole = answers(output_power=["45 W", "8 ohms", "both", "1 kHz", "1 %"], sensitivity=["150 mV", "line", "rated", "±1 dB"],
                        gain=["line 50 dB ±1 dB", "3"])  # fmt: skip
        for count in range(1, len(whole)):
            with self.subTest(answers=count):
                done = self.ask(whole[:count])
                self.assertEqual(done.returncode, 3, done.stdout + done.stderr)
                text = self.text()
                self.assertTrue(text.startswith("# DRAFT"), text)
                for given in whole[:count]:
                    if given and not given.isdigit() and given not in ("line, phono", "speaker_a, pre_out", "rated", "line"):
                        found = given in text or given.replace("ohms", "ohm") in text
                        self.assertTrue(found, f"{given} is lost:\n{text}")
                yaml.load(text, Loader=EditorLoader)
                os.remove(self.file)

    def test_terminals_that_are_not_known_are_taken_as_bridged(self):
        lines = answers(separation="60 dB at 1 kHz, shorted")
        lines[4] = ""
        self.asked(lines)
        self.assertEqual(self.accepted()["unit"]["output_terminals"], "bridged")
        self.assertIn("bridged is the safe side", self.text())

    def test_an_output_transformer_is_asked_for(self):
        lines = answers(separation="60 dB at 1 kHz, shorted")
        lines[5] = "yes"
        self.asked(lines)
        self.assertIs(self.accepted()["unit"]["output_transformer"], True)

    def test_a_file_that_is_there_stays_until_somebody_says_yes(self):
        with open(self.file, "w", encoding="utf-8") as file:
            file.write("mine\n")
        for lines in ([], [""], ["1"], ["2"], ["2", "no"], ["2", ""], ["9"]):
            done = self.ask(lines)
            self.assertEqual(done.returncode, 73, lines)
            self.assertIn("nothing was overwritten", done.stderr.decode())
            self.assertEqual(self.text(), "mine\n")
        self.asked(["2", "yes"] + answers(separation="60 dB at 1 kHz, shorted"))
        self.accepted()

    def test_nothing_given_writes_nothing(self):
        done = self.ask([], ended=True)
        self.assertEqual(done.returncode, 3)
        self.nothing_was_written()

    def test_a_sheet_in_the_library_is_shown_and_taken_as_it_is(self):
        library = os.path.join(self.folder, "sheets")
        os.mkdir(library)
        with open(UNIT, encoding="utf-8") as file:
            text = file.read()
        with open(os.path.join(library, "h40.rating.yaml"), "w", encoding="utf-8") as file:
            file.write(text)
        with open(os.path.join(library, "broken.rating.yaml"), "w", encoding="utf-8") as file:
            file.write("afterload: rating/1\n")
        told = " ".join(self.asked(["hollinfay", "h-40", "1"], "--library", library).split())
        self.assertIn(f"Searched {library} (1 rating sheet, 1 with mistakes", told)
        self.assertIn("Hollinfay H40 service sheet, issue 2", told)
        self.assertIn("output power at least 40 W: 8 Ω, both channels driven", told)
        self.assertEqual(self.text(), text)
        self.accepted()

    def test_a_sheet_in_the_library_is_a_start(self):
        settings = os.path.join(self.environment["XDG_CONFIG_HOME"], "afterload/ratings")
        os.makedirs(settings)
        with open(UNIT, encoding="utf-8") as file:
            text = file.read()
        with open(os.path.join(settings, "h40.rating.yaml"), "w", encoding="utf-8") as file:
            file.write(text)
        lines = ["Hollinfay", "H40", "2"] + answers(rails="36 V ±5 %")[len(UNIT_ANSWERS) - 1 :]
        told = self.asked(lines)
        self.assertIn(settings, told.replace("\n", ""))
        self.assertTrue(self.text().startswith(text))
        self.assertEqual(self.figures()["supply_rail"]["nominal"], "36 V")
        self.assertIn("idle_current", self.figures())

    def test_where_was_searched_is_told_when_nothing_is_found(self):
        told = self.asked(answers(separation="60 dB at 1 kHz, shorted"), "--library", os.path.join(self.folder, "none"))
        self.assertRegex(" ".join(told.split()), r"Searched \S*none \(not there\)\.")

    def test_hostile_text_is_quoted_in_the_file_and_escaped_on_the_terminal(self):
        for text in HOSTILE:
            with self.subTest(text=text):
                lines = answers(separation="60 dB at 1 kHz, shorted")
                lines[0] = text
                lines[len(UNIT_ANSWERS) - 1] = text  # the page
                told = self.asked(lines)
                document = self.accepted()
                self.assertEqual(document["unit"]["maker"], text)
                self.assertEqual(document["figures"][0]["source"], text)
                for mark in ("\x1b", "\x07", "\u202e"):
                    self.assertNotIn(mark, told + self.text())
                os.remove(self.file)

    def test_hostile_figures_are_refused_and_what_follows_is_heard(self):
        told = self.asked(answers(output_power=["45 W \x1b[2J", "9" * 10000 + " W", "\u202e45 W", "45 W + 45 W into 8 ohms, 1 kHz, 1 %"]))
        self.assertIn("\\x1b", told)
        self.assertNotIn("\x1b", told)
        self.assertNotIn("\u202e", told)
        self.assertLess(len(told), 20000)
        self.assertEqual(self.figures()["output_power"]["at_least"], "45 W")

    def test_bytes_that_are_no_text_are_asked_for_again(self):
        text = "\n".join(answers(separation="60 dB at 1 kHz, shorted")).encode() + b"\n"
        done = subprocess.run([PROGRAM, "new", "rating", self.file], input=b"Holl\xffinfay\n" + text, timeout=120,
                              capture_output=True, env=self.environment)  # fmt: skip
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("not UTF-8", done.stderr.decode())
        self.assertEqual(self.accepted()["unit"]["maker"], "Hollinfay")

    def test_json_prints_one_document_and_nothing_else(self):
        done = self.ask(answers(separation="60 dB at 1 kHz, shorted"), "--json")
        document = json.loads(done.stdout)
        self.assertEqual((document["file"], document["draft"]), (self.file, False))
        os.remove(self.file)
        self.assertTrue(json.loads(self.ask(UNIT_ANSWERS, "--json").stdout)["draft"])

    def test_a_folder_that_cannot_be_written_is_named(self):
        self.file = os.path.join(self.folder, "none", "asked.rating.yaml")
        done = self.ask(answers(separation="60 dB at 1 kHz, shorted"))
        self.assertEqual(done.returncode, 73)
        self.assertIn("none", done.stderr.decode())


class NewJob(NewFile):
    kind = "job"
    LINES = ["2417", "Harsh when played quietly: no bass on the \"right\"", "C712 dried out", "trimmers replaced",
             "idle currents set warm", "", "C712", "22 uF 50 V, film", "dried out", "R733", "0.33 ohm", "", "",
             "idle current left, across R733", "0.3 mV", "12.1 mV", "", "earth continuity", "0.12 ohm, passed", "",
             "the left knob is loose", ""]  # fmt: skip

    def test_a_whole_job_is_as_it_was_answered(self):
        self.asked(self.LINES)
        job = self.accepted()
        self.assertEqual((job["ticket"], job["complaint"], job["cause"]), tuple(self.LINES[:3]))
        self.assertEqual(job["work"], self.LINES[3:5])
        self.assertEqual(job["parts"], [{"position": "C712", "part": "22 uF 50 V, film", "reason": "dried out"},
                                        {"position": "R733", "part": "0.33 ohm"}])  # fmt: skip
        self.assertEqual(job["adjustments"], [{"what": "idle current left, across R733", "found": "0.3 mV",
                                               "left": "12.1 mV"}])  # fmt: skip
        self.assertEqual(job["safety"], [{"test": "earth continuity", "result": "0.12 ohm, passed"}])
        self.assertEqual(job["notes"], ["the left knob is loose"])

    def test_everything_can_be_skipped(self):
        self.asked([""] * 8)
        self.assertEqual(self.accepted(), {"afterload": "job/1", "complaint": "not noted"})

    def test_an_end_in_any_question_loses_nothing_that_was_given(self):
        for count in range(1, len(self.LINES)):
            with self.subTest(answers=count):
                done = self.ask(self.LINES[:count])
                self.assertEqual(done.returncode, 3, done.stdout + done.stderr)
                self.assertTrue(self.text().startswith("# DRAFT"))
                given = json.dumps(self.accepted(), ensure_ascii=False)
                for line in self.LINES[:count]:
                    self.assertIn(json.dumps(line)[1:-1], given)
                os.remove(self.file)

    def test_nothing_given_writes_nothing(self):
        self.assertEqual(self.ask([], ended=True).returncode, 3)
        self.nothing_was_written()

    def test_a_file_that_is_there_stays_until_somebody_says_yes(self):
        with open(self.file, "w", encoding="utf-8") as file:
            file.write("mine\n")
        for lines in ([], [""], ["no"]):
            self.assertEqual(self.ask(lines).returncode, 73)
            self.assertEqual(self.text(), "mine\n")
        self.asked(["yes"] + self.LINES)
        self.accepted()

    def test_hostile_text_is_quoted(self):
        for text in HOSTILE:
            with self.subTest(text=text):
                self.asked(["", text, text, text, "", "C1", text, text, "", "", "", text, ""])
                job = self.accepted()
                self.assertEqual([job["complaint"], job["cause"], job["work"], job["notes"]],
                                 [text, text, [text], [text]])  # fmt: skip
                self.assertEqual(job["parts"], [{"position": "C1", "part": text, "reason": text}])
                self.assertNotRegex(self.text(), "[\x00-\x08\x0b-\x1f\u202a-\u202e]")
                os.remove(self.file)

    def test_ten_thousand_characters_are_all_there(self):
        words = " ".join(f"Wört{number:05d}" for number in range(1000))
        self.assertGreaterEqual(len(words), 9999)
        self.asked(["1", words] + [""] * 6)
        job = self.accepted()
        whole = job["complaint"] + "".join(note.split("continued: ", 1)[1] for note in job["notes"])
        self.assertEqual(whole, words)

    def test_an_answer_without_an_end_is_not_kept_in_memory(self):
        told = self.asked(["1", "x" * 1000000, "short"] + [""] * 6)
        self.assertIn("shorten it", told)
        self.assertEqual(self.accepted()["complaint"], "short")


class JobOfARun(NewFile):
    kind = "job"

    def run_with_job(self, serial):
        sequence = os.path.join(self.folder, "quiet.sequence.yaml")
        with open(sequence, "w", encoding="utf-8") as file:
            file.write("afterload: sequence/1\ntitle: Quiet\nsteps:\n  - {name: quiet, input: line, output: speaker_a, "
                       "signal: silence, record: 0.5 s, figures: [noise_voltage]}\n")  # fmt: skip
        done = subprocess.run(
            [PROGRAM, "run", sequence, "--unit", UNIT, "--bench", os.path.join(ROOT, "fixtures/benches/north.bench.yaml"),
             "--serial", serial, "--assume-prompts", "--runs", "runs", "--job", self.file],
            capture_output=True, text=True, timeout=300, cwd=self.folder)  # fmt: skip
        self.assertIn(done.returncode, (0, 2), done.stdout + done.stderr)

    def found(self, *words):
        done = subprocess.run([PROGRAM, *words, "--runs", "runs", "--json"], capture_output=True, text=True, timeout=120,
                              cwd=self.folder)  # fmt: skip
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
        return [run["serial"] for run in json.loads(done.stdout)["runs"]]

    def tied_together_by(self, label):
        self.run_with_job("40-0001")
        self.run_with_job("40-0002")
        for name in os.listdir(os.path.join(self.folder, "runs")):
            folder = os.path.join(self.folder, "runs", name)
            if os.path.isdir(folder):
                with open(os.path.join(folder, "run.json"), encoding="utf-8") as file:
                    self.assertEqual(json.load(file)["job"], label)
                with open(os.path.join(folder, "report.html"), encoding="utf-8") as file:
                    self.assertIn(f"Ticket {label}", re.sub(r"<[^>]+>", "", file.read()))
        for words in (("list", "--job", label), ("list", "--job", self.file), ("search", label)):
            self.assertEqual(sorted(self.found(*words)), ["40-0001", "40-0002"], words)
        self.assertEqual(self.found("list", "--job", "another"), [])

    def test_its_ticket_ties_its_runs_together(self):
        self.asked(NewJob.LINES)
        self.tied_together_by("2417")

    def test_without_a_ticket_its_name_does(self):
        self.asked([""] * 8)
        self.tied_together_by("asked")


class NewSequence(NewFile):
    kind = "sequence"

    def planned(self):
        done = subprocess.run([PROGRAM, "run", self.file, "--unit", UNIT, "--bench",
                               os.path.join(ROOT, "fixtures/benches/north.bench.yaml"), "--plan"],
                              capture_output=True, text=True, timeout=120)  # fmt: skip
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)

    def test_every_shipped_one_is_a_start(self):
        shipped = [name for name in os.listdir(os.path.join(ROOT, "sequences/shipped")) if ".sequence." in name]
        for number in range(1, len(shipped) + 1):
            with self.subTest(number=number):
                self.asked([str(number), 'Ours: the "quick" one # 2'])
                self.assertEqual(self.accepted()["title"], 'Ours: the "quick" one # 2')
                os.remove(self.file)

    def test_one_that_ships_can_be_carried_out_under_its_new_name(self):
        self.asked(["1", ""])
        self.assertEqual(self.accepted()["title"], "Quick check at arrival, ours")
        self.planned()

    def test_a_short_one_with_comments_can_be_carried_out(self):
        self.asked(["7", "Look", "phono mm", "line", "speaker_a", "100 W", "0.5 W"])
        sequence = self.accepted()
        self.assertEqual(sequence["title"], "Look")
        self.assertEqual(sequence["parameters"]["level"]["default"], "0.5 W")
        self.assertTrue(sequence["steps"][0]["meters"][0]["gate"], "offset is read before anything drives")
        self.assertIn("local_code", sequence["cautions"])
        self.planned()

    def test_the_step_that_is_commented_out_is_good_as_it_stands(self):
        self.asked(["7", "", "", "", ""])
        whole = self.text().replace("\n  # - name: power", "\n  - name: power").replace("\n  #   ", "\n    ")
        self.assertNotEqual(whole, self.text())
        with open(self.file, "w", encoding="utf-8") as file:
            file.write(whole)
        self.assertEqual(self.accepted()["steps"][-1]["name"], "power")
        self.planned()

    def test_an_end_writes_nothing(self):
        for lines in ([], ["1"], ["7", "Look"], ["7", "Look", "line", "speaker_a"]):
            done = self.ask(lines) if lines else self.ask(lines, ended=True)
            self.assertEqual(done.returncode, 3, lines)
            self.nothing_was_written()

    def test_a_file_that_is_there_stays_until_somebody_says_yes(self):
        with open(self.file, "w", encoding="utf-8") as file:
            file.write("mine\n")
        self.assertEqual(self.ask(["no"]).returncode, 73)
        self.assertEqual(self.text(), "mine\n")
        self.asked(["yes", "1", ""])
        self.accepted()


class AtATerminal(NewFile):
    """A pseudo-terminal of 40 columns: a person types, and ends with Ctrl-D."""

    def typed(self, steps, columns=40):
        """Answers each question when it stands there; what the terminal showed, and the exit status."""
        pid, terminal = pty.fork()
        if pid == 0:
            fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
            os.environ.update(self.environment, TERM="dumb")
            os.execv(PROGRAM, [PROGRAM, "new", self.kind, self.file])
        shown = b""
        seen = 0
        deadline = time.monotonic() + 60
        waiting = list(steps)
        status = None
        while status is None:
            if time.monotonic() > deadline:
                os.kill(pid, signal.SIGKILL)
                self.fail(f"it hangs at {shown[-400:]!r}")
            if select.select([terminal], [], [], 0.05)[0]:
                try:
                    shown += os.read(terminal, 65536)
                except OSError:  # the other end is closed
                    pass
            if waiting and waiting[0][0].encode() in shown[seen:]:
                seen = len(shown)
                os.write(terminal, waiting.pop(0)[1].encode())
            done, how = os.waitpid(pid, os.WNOHANG)
            status = os.waitstatus_to_exitcode(how) if done else None
        os.close(terminal)
        self.assertEqual(waiting, [])
        return shown.decode(), status

    def test_a_person_types_a_sheet_and_ends_it_with_ctrl_d(self):
        shown, status = self.typed([
            ("Maker:", "Hollinfay\n"), ("Model:", "H45\n"), ("phono]:", "\n"), ("speaker_b]:", "\n"), ("[1]:", "2\n"),
            ("[no]:", "\n"), ("230 V:", "\n"), ("50 Hz:", "\n"), ("4):", "12\n"),
            ("Output power:", "45 W roughly\n"), ("Output power:", "45 W + 45 W into 8 ohms, 1 kHz, 1 %\n"),
            ("another:", "\x04")])  # fmt: skip
        self.assertEqual(status, 3, shown)
        self.assertIn("was not understood", shown)
        self.assertIn("a draft with 1 rated figure", shown)
        document = self.accepted()
        self.assertEqual(document["figures"][0]["source"], "page 12")
        self.assertEqual(document["unit"]["outputs"], ["speaker_a", "speaker_b"])

    def test_nothing_that_is_said_is_wider_than_the_terminal(self):
        shown, status = self.typed([
            ("Maker:", "Hollinfay\n"), ("Model:", "H45\n"), ("phono]:", "\n"), ("speaker_b]:", "\n"), ("[1]:", "2\n"),
            ("[no]:", "\n"), ("230 V:", "\n"), ("50 Hz:", "\n"), ("4):", "12\n"), ("Output power:", "45 W\n"), ("say:", "\x04")])  # fmt: skip
        self.assertEqual(status, 3)
        # The program's last lines name a path, which is not cut.
        for line in shown.split("Searched")[0].splitlines() + shown.split("not there).")[-1].split("a draft")[0].splitlines()[:-1]:
            self.assertLessEqual(len(line), 40, line)

    def test_control_characters_that_are_typed_do_not_reach_the_terminal(self):
        # Behind Ctrl-V a terminal takes a control character as text, and itself echoes it as ^[.
        shown, status = self.typed([
            ("Maker:", "Holl\x16\x1b[2Jinfay\n"), ("Model:", "H45\n"), ("phono]:", "\x04")])  # fmt: skip
        self.assertEqual(status, 3, shown)
        self.assertNotIn("\x1b", shown)
        self.assertEqual(self.document()["unit"]["maker"], "Holl\x1b[2Jinfay")

    def test_a_job_is_typed(self):
        self.kind = "job"
        self.file = os.path.join(self.folder, "asked.job.yaml")
        shown, status = self.typed([("Ticket:", "2417\n"), ("words:", "No bass\n"), ("known:", "\x04")])
        self.assertEqual(status, 3, shown)
        self.assertEqual(self.accepted(), {"afterload": "job/1", "ticket": "2417", "complaint": "No bass"})


if __name__ == "__main__":
    unittest.main()

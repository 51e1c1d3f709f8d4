"""The recordings that are kept in fixtures/captures, against the note beside them."""

import json
import math
import os
import unittest

from analyze import analyze, faults, figure, value

FOLDER = os.path.realpath(
    os.path.join(os.path.dirname(__file__), "..", "..", "fixtures", "captures")
)


class Captures(unittest.TestCase):
    def test_every_kept_recording_reads_as_its_note_says(self):
        with open(os.path.join(FOLDER, "captures.json")) as file:
            notes = json.load(file)
        kept = {name for name in os.listdir(FOLDER) if name.endswith(".wav")}
        self.assertEqual(kept, {note["file"] for note in notes})
        for note in notes:
            with self.subTest(file=note["file"]):
                options = ["--signal", note["signal"], "--full-scale", f"{note['full_scale_v']}V"]
                if "load_ohm" in note:
                    options += ["--load", f"{note['load_ohm']}ohm"]
                done = analyze([os.path.join(FOLDER, note["file"])], *options)
                document = done.documents[0]
                if "fault" in note:
                    self.assertEqual(done.status, 2)
                    self.assertIn(note["fault"]["kind"], faults(document))
                    continue
                self.assertEqual(done.status, 0, done.errors or document)
                volts = value(document, "output_voltage")
                self.assertLess(abs(volts / note["output_voltage_v"] - 1), 0.0025)
                if "thd_to_order_20" in note:
                    thd = figure(document, "thd")
                    order = thd["conditions"]["highest_order"]
                    lines = note["harmonics_v_peak"]
                    expected = math.sqrt(sum(x * x for x in lines[2 : order + 1])) / lines[1]
                    self.assertLess(abs(20 * math.log10(thd["value"] / expected)), 0.1)


if __name__ == "__main__":
    unittest.main()

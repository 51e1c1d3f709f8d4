"""A generator beside a sound card, in real time: both reach the amplifier through an audio server,
the generator on a clock of its own. What it can play comes from it, the rest from the card.
"""

import math
import os
import subprocess
import tempfile
import unittest

import numpy as np

import reference
import wave_file
from audio_server import RATE, AudioServer
from sine_generator import SineGenerator
from stand_in import BENCH, amplifier, outcome, run

PPM = 80.0  # of the generator's clock against the server's
SEQUENCE = """afterload: sequence/1
title: Card and generator in turns
steps:
  - name: controls and offset
    prompt:
      title: Controls
      controls: {input: line, volume: maximum, tone: defeat, speakers: A}
      cautions: [offset_before_load]
    meters: [{reads: dc_offset, gate: true}]
  - name: low
    input: line
    output: speaker_a
    path: direct
    volume: maximum
    signal: tone
    frequency: 997 Hz
    level: 1 W
    record: 0.5 s
    figures: [gain, thd, frequency]
  - name: response
    signal: multitone
    band: 20 Hz..15 kHz
    level: 1 W
    record: 1 s
    figures: [gain, frequency_response]
  - name: left alone
    signal: tone
    driven: left
    frequency: 997 Hz
    level: 1 W
    record: 0.5 s
    figures: [gain, channel_separation]
  - name: more
    signal: tone
    level: 10 W
    record: 0.5 s
    for_each: {frequencies: [997 Hz, 3097 Hz]}  # what folds at 48 kHz falls between its harmonics
    figures: [thd]
  - name: swept
    signal: sweep
    band: 20 Hz..20 kHz
    level: 1 W
    figures: [frequency_response]
"""


class GeneratorAndCard(unittest.TestCase):
    def setUp(self):
        kept = tempfile.TemporaryDirectory()
        self.addCleanup(kept.cleanup)
        self.folder = kept.name

    def volts(self, run_folder, record):
        """At the terminals, by sox and not by afterload."""
        whole = os.path.join(self.folder, "record.wav")
        subprocess.run(["sox", "-D", os.path.join(run_folder, record["path"]), "-b", "24", whole], check=True)
        samples, rate = wave_file.read(whole)
        self.assertEqual(rate, RATE)
        return samples * np.array(record["full_scale_v_peak"])

    def test_take_turns_on_an_audio_server_and_agree_with_scipy(self):
        sequence = os.path.join(self.folder, "turns.sequence.yaml")
        with open(sequence, "w") as file:
            file.write(SEQUENCE)
        with AudioServer(self.folder) as server:
            amplifier(server)
            generator = SineGenerator(server, "amplifier", 0.8, PPM)
            self.addCleanup(generator.close)
            bench = BENCH.replace("ranges:\n", f"""generator:
  full_scale: 0.8 V
  impedance: 50 ohm
  level_uncertainty: 0.5 %
  instrument: sine box
  calibrated: 2026-05-20
instruments:
  - {{name: sine box, address: "tcp://127.0.0.1:{generator.port}", identity: "Afterload,Sine box", deadline: 1 s}}
ranges:
""", 1)  # fmt: skip
            child = run(self.folder, server, sequence, bench_text=bench)
            _, errors = child.communicate(timeout=200)
            generator.close()
        run_folder, document = outcome(self.folder)
        self.assertEqual(document["state"], "done", document.get("stop_reason") or errors)
        self.assertFalse(generator.on, "left playing")
        steps = {step["name"]: step for step in document["steps"]}
        by = {name: [each["driven"].get("from_generator", False) for each in step["records"]]
              for name, step in steps.items()}  # fmt: skip
        self.assertEqual((by["low"], by["more"]), ([True], [True, True]))
        self.assertEqual((by["response"], by["left alone"], by["swept"]), ([False], [False], [False]))
        # Nothing but the sines of the generator's own steps was asked of it.
        self.assertEqual({round(hertz) for hertz, _ in generator.played}, {997, 3097})
        self.assertEqual(document["bench"]["generator"]["instrument"], "sine box")

        for name, hertz in (("low", 997.0), ("more", 997.0), ("more", 3097.0)):
            step = steps[name]
            (record,) = [each for each in step["records"] if each["driven"]["nominal_hz"] == hertz]
            self.assertTrue(record["sound"], record["faults"])
            volts = self.volts(run_folder, record)
            for channel in (1, 2):
                fitted, peak = reference.tone(volts[:, channel - 1], RATE, hertz)[:2]
                self.assertAlmostEqual(1e6 * (fitted / hertz - 1), PPM, delta=1.0)  # SciPy sees its clock as well
                for figure in step["figures"]:
                    if figure.get("channel") != channel or figure.get("value") is None:
                        continue
                    if abs(figure["conditions"].get("frequency_hz", hertz) / hertz - 1) > 0.01:
                        continue
                    # At 1 W the valve bends by what it played before, and not the same within a record.
                    if figure["figure"] == "thd" and name == "more":
                        expected = reference.thd(volts[:, channel - 1], RATE, hertz,
                                                 figure["conditions"]["highest_order"])  # fmt: skip
                        self.assertLess(abs(20 * math.log10(figure["value"] / expected)), 0.05, f"{name} {hertz}")
                    if figure["figure"] == "gain":
                        drive = record["driven"]["drive_left_v" if channel == 1 else "drive_right_v"]
                        expected = 20 * math.log10(peak / math.sqrt(2) / drive)
                        self.assertLess(abs(figure["value"] - expected), 0.05, name)
        # Card and generator tell the same of the amplifier, within what each states.
        gains = [figure for name in ("low", "left alone") for figure in steps[name]["figures"]
                 if figure["figure"] == "gain" and figure["channel"] == 1]  # fmt: skip
        self.assertEqual(len(gains), 2)
        apart = abs(gains[0]["value"] - gains[1]["value"])
        self.assertLess(apart, math.hypot(gains[0]["u_k2"], gains[1]["u_k2"]))


if __name__ == "__main__":
    unittest.main()

"""A power amplifier made of transistors in ngspice, recorded through a divider, against ngspice's own
Fourier analysis of the same waveform.

Bounds: 0.1 dB of THD and 0.5 % of power. What stands between the two: the last period there and
50 periods here (0.003 dB), 24-bit steps without dither (0.02 dB at the most), the low-pass.
"""

import math
import os
import tempfile
import unittest

import circuit
import wave_file
from analyze import analyze, figure, value

STARVED, ADJUSTED, RICH = 2.1, 2.37, 2.5  # V between the driver bases: 4 uA, 18 mA, 100 mA
DRIVES = (0.0563, 0.178, 0.563, 1.1)  # V peak: 0.1, 1, 10 and 38 W
CARD_FULL_SCALE = 1.0  # V peak behind the divider


def captured(folder, spread, drive):
    """A 24-bit capture, and the harmonics ngspice finds in the output."""
    sense, harmonics = circuit.simulate(spread, drive)
    path = os.path.join(folder, f"spread-{spread}-drive-{drive}.wav")
    wave_file.write(path, sense / CARD_FULL_SCALE, circuit.RATE)
    return path, harmonics


def analyzed(paths):
    full_scale = CARD_FULL_SCALE * circuit.DIVIDER
    done = analyze(
        paths,
        "--signal", "tone",
        "--full-scale", f"{full_scale:g}V",
        "--load", f"{circuit.LOAD_OHM:g}ohm",
    )  # fmt: skip
    if done.status != 0:
        raise AssertionError(f"status {done.status}: {done.errors} {done.documents}")
    return done.documents


class Circuit(unittest.TestCase):
    def agrees_with_ngspice_at(self, spread):
        """THD at 0.1, 1, 10 and 38 W."""
        with tempfile.TemporaryDirectory() as folder:
            runs = [captured(folder, spread, drive) for drive in DRIVES]
            documents = analyzed([path for path, _ in runs])
        found = []
        for document, (path, harmonics) in zip(documents, runs, strict=True):
            with self.subTest(capture=os.path.basename(path)):
                thd = figure(document, "thd")
                order = thd["conditions"]["highest_order"]
                self.assertGreaterEqual(order, 9)
                self.assertLessEqual(order, circuit.HIGHEST_ORDER)
                expected = circuit.distortion(harmonics, order)
                difference_db = 20 * math.log10(thd["value"] / expected)
                watts = harmonics[1] ** 2 / 2 / circuit.LOAD_OHM
                power = value(document, "output_power")
                print(
                    f"{os.path.basename(path)}: {watts:.4f} W, THD {expected:.4%}; "
                    f"here {difference_db:+.4f} dB, {power / watts - 1:+.4%}"
                )
                self.assertLess(abs(difference_db), 0.1)
                self.assertLess(abs(power / watts - 1), 0.005)
                found.append(thd["value"])
        return found

    def test_agrees_with_ngspice_at_starved_bias_where_distortion_rises_as_the_level_falls(self):
        tenth, one, ten, _ = self.agrees_with_ngspice_at(STARVED)
        self.assertGreater(one, 2 * ten)
        self.assertGreater(tenth, 2 * one)

    def test_agrees_with_ngspice_at_adjusted_bias_where_distortion_falls_with_the_level(self):
        tenth, one, ten, most = self.agrees_with_ngspice_at(ADJUSTED)
        self.assertLess(tenth, one)
        self.assertLess(one, ten)
        self.assertLess(ten, most)

    def test_agrees_with_ngspice_at_rich_bias(self):
        self.agrees_with_ngspice_at(RICH)


if __name__ == "__main__":
    unittest.main()

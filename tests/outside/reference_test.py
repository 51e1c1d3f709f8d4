"""The references themselves, against closed forms: before afterload is held to them."""

import math
import os
import tempfile
import unittest

import numpy as np

import circuit
import reference
import wave_file


def sine(frequency, rate, seconds, amplitude=1.0, phase=0.3):
    t = np.arange(round(seconds * rate)) / rate
    return amplitude * np.sin(2 * np.pi * frequency * t + phase)


class Reference(unittest.TestCase):
    def test_ngspice_finds_the_harmonics_of_a_polynomial(self):
        # y = x + a2 x^2 + a3 x^3, A = 1: H1 = A + 3/4 a3 A^3, H2 = a2 A^2 / 2, H3 = a3 A^3 / 4.
        a2, a3 = 0.001, -0.002
        netlist = f"""* a polynomial of a sine
v1 a 0 sin(0 1 {circuit.TONE_HZ})
b1 out 0 v=v(a)+{a2}*v(a)*v(a)+{a3}*v(a)*v(a)*v(a)
rtop out sense 29k
rbot sense 0 1k
.options reltol=1e-6
"""
        with tempfile.TemporaryDirectory() as work:
            printed = circuit.ngspice(netlist + circuit.control(0.004, "v(out)"), work)
        lines = circuit.harmonics(printed)
        # straight lines between points h apart take up to (2 pi f h)^2 / 8 off the peak: 1.3e-6
        self.assertAlmostEqual(lines[1], 1 + 0.75 * a3, delta=1.4e-6)
        self.assertAlmostEqual(lines[2], a2 / 2, delta=1e-7)
        self.assertAlmostEqual(lines[3], abs(a3) / 4, delta=1e-7)
        expected = math.hypot(a2 / 2, a3 / 4) / (1 + 0.75 * a3)
        self.assertAlmostEqual(circuit.distortion(lines, 20) / expected, 1, delta=2e-4)

    def test_the_circuit_draws_at_rest_what_four_millivolts_across_an_emitter_resistor_say(self):
        with open(circuit.NETLIST) as file:
            netlist = file.read().replace(".end", "")
        with tempfile.TemporaryDirectory() as work:
            printed = circuit.ngspice(
                netlist
                + """
.control
op
let emitter = v(u8) - v(out)
print emitter
tran 1u 2m
fourier 1k v(out)
.endc
.end
""",
                work,
            )
        emitter = float(printed.split("emitter = ")[1].split()[0])
        self.assertAlmostEqual(emitter, 4.0e-3, delta=0.2e-3)
        self.assertAlmostEqual(emitter / 0.22, 18.2e-3, delta=1e-3)

    def test_the_low_pass_is_flat_where_harmonics_count_and_down_where_they_fold(self):
        taps = circuit.low_pass()
        fast = circuit.RATE * circuit.POINTS_A_SAMPLE

        def response_db(frequency):
            n = np.arange(len(taps))
            return 20 * np.log10(abs(np.sum(taps * np.exp(-2j * np.pi * frequency / fast * n))))

        for order in range(1, circuit.HIGHEST_ORDER + 1):
            self.assertLess(abs(response_db(order * circuit.TONE_HZ)), 1e-4)
            folded = circuit.RATE - order * circuit.TONE_HZ
            self.assertLess(response_db(folded), -120)

    def test_scipy_finds_level_and_frequency_off_the_grid(self):
        record = sine(997.123, 48000, 1.0, 0.25)
        frequency, amplitude, rest = reference.tone(record, 48000, 997)
        self.assertAlmostEqual(frequency, 997.123, delta=1e-6)
        self.assertAlmostEqual(amplitude, 0.25, delta=1e-9)
        self.assertLess(np.abs(rest).max(), 1e-7)

    def test_scipy_reads_the_distortion_of_a_clipped_sine(self):
        # check value: hard-clipped at 0.9 of the peak, harmonics 2 to 10: 4.1898335 %. Sampled at
        # 20 MHz, so that what folds back is 100 dB below.
        record = np.clip(sine(1000, 20_000_000, 0.02), -0.9, 0.9)
        self.assertAlmostEqual(
            reference.thd(record, 20_000_000, 1000, 10), 0.041898335, delta=1e-7
        )

    def test_scipy_reads_the_worked_mixture(self):
        # fundamental 0 dB, H2 -60 dB, H3 -70 dB, noise -80 dB in band: THD+N over the fundamental
        # 0.105356538 %, THD 0.104880885 %. White noise of 20 Hz to 20 kHz share of 24 kHz.
        rate, seconds = 48000, 30.0
        root = math.sqrt(2)
        noise = np.random.default_rng(5).standard_normal(round(rate * seconds))
        noise *= 1e-4 / math.sqrt((20000 - 20) / 24000)
        record = root * (
            sine(997, rate, seconds)
            + sine(2 * 997, rate, seconds, 1e-3, 0.1)
            + sine(3 * 997, rate, seconds, 10**-3.5, 0.7)
        )
        found = reference.thd_plus_noise(record + noise, rate, 997, 20, 20000)
        self.assertAlmostEqual(20 * math.log10(found / 1.05356538e-3), 0, delta=0.002)
        self.assertAlmostEqual(reference.thd(record, rate, 997, 9) / 1.04880885e-3, 1, delta=1e-6)

    def test_a_weighting_follows_the_table_of_the_standard(self):
        # IEC 61672-1:2013, Table 3, in steps of 0.1 dB at the exact base-ten frequencies.
        table = {
            10: -70.4, 12.5: -63.4, 16: -56.7, 20: -50.5, 25: -44.7, 31.5: -39.4, 40: -34.6,
            50: -30.2, 63: -26.2, 80: -22.5, 100: -19.1, 125: -16.1, 160: -13.4, 200: -10.9,
            250: -8.6, 315: -6.6, 400: -4.8, 500: -3.2, 630: -1.9, 800: -0.8, 1000: 0.0,
            1250: 0.6, 1600: 1.0, 2000: 1.2, 2500: 1.3, 3150: 1.2, 4000: 1.0, 5000: 0.5,
            6300: -0.1, 8000: -1.1, 10000: -2.5, 12500: -4.3, 16000: -6.6, 20000: -9.3,
        }  # fmt: skip
        for nominal, expected in table.items():
            exact = 10 ** (round(10 * math.log10(nominal)) / 10)
            found = 20 * math.log10(reference.a_weighting(exact))
            self.assertAlmostEqual(found, expected, delta=0.0501, msg=f"{nominal} Hz")

    def test_scipy_reads_white_noise_of_a_known_density(self):
        noise = 1e-3 * np.random.default_rng(6).standard_normal(48000 * 60)
        found = reference.noise(noise, 48000, 20, 20000)
        expected = 1e-3 * math.sqrt((20000 - 20) / 24000)
        # standard deviation 1/sqrt(4BT) of an rms, Hann: about 0.0006 of it
        self.assertAlmostEqual(found / expected, 1, delta=0.003)

    def test_a_wave_file_reads_back_as_it_was_written(self):
        samples = np.column_stack([sine(997, 48000, 0.1, 0.5), sine(61, 48000, 0.1, 0.9)])
        with tempfile.TemporaryDirectory() as folder:
            for bits in (16, 24, 32):
                path = os.path.join(folder, f"{bits}.wav")
                wave_file.write(path, samples, 48000, bits)
                read, rate = wave_file.read(path)
                self.assertEqual(rate, 48000)
                self.assertLessEqual(np.abs(read - samples).max(), 0.5000001 / 2 ** (bits - 1))


if __name__ == "__main__":
    unittest.main()

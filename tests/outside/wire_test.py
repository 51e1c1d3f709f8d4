"""The instruments of a simulated bench on a wire, asked by other people's clients: netcat, lxi-tools
and PyVISA over a raw socket.
"""

import os
import re
import signal
import socket
import subprocess
import time
import unittest

import pyvisa

from analyze import PROGRAM

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
BENCH = os.path.join(ROOT, "fixtures/benches/north.bench.yaml")


class Wire(unittest.TestCase):
    def setUp(self):
        self.served = subprocess.Popen([PROGRAM, "simulate", BENCH], stdout=subprocess.PIPE, text=True)
        self.addCleanup(self.end)
        self.ports = {}
        while len(self.ports) < 5:
            name, address = self.served.stdout.readline().split()
            self.ports[name] = int(address.rsplit(":", 1)[1])

    def end(self):
        if self.served.poll() is None:
            self.served.send_signal(signal.SIGTERM)
            self.served.wait(10)
        self.served.stdout.close()

    def netcat(self, name, *lines):
        done = subprocess.run(["nc", "-q", "1", "127.0.0.1", str(self.ports[name])],
                              input="".join(line + "\n" for line in lines), capture_output=True,
                              text=True, timeout=20)  # fmt: skip
        return done.stdout.splitlines()

    def visa(self, name):
        resource = pyvisa.ResourceManager("@py").open_resource(
            f"TCPIP::127.0.0.1::{self.ports[name]}::SOCKET", read_termination="\n", write_termination="\n")
        resource.timeout = 5000
        self.addCleanup(resource.close)
        return resource

    def test_netcat_reads_identity_chained_commands_and_both_forms(self):
        self.assertEqual(
            self.netcat("source", "*IDN?", "SOURce:VOLTage 0.5;FREQuency 997", "volt?;:freq?", ":OUTP?",
                        "volt 250 mV;:volt?", "FREQ 6 kHz;FREQ?"),
            ["Afterload,Simulated source,1,1.0", "+5.000000000E-01;+9.970000000E+02", "0", "+2.500000000E-01",
             "+6.000000000E+03"],
        )  # fmt: skip

    def test_netcat_reads_the_error_queue_in_order_and_until_it_is_empty(self):
        replies = self.netcat("source", "NO:SUCH 1", "VOLT 1000", "VOLT", "VOLT much", "OUTP maybe",
                              *(6 * ["SYST:ERR?"]), "*CLS", "BAD", "*CLS", "SYSTem:ERRor:NEXT?")  # fmt: skip
        self.assertEqual(
            [reply.split(",")[0] for reply in replies],
            ["-113", "-222", "-109", "-104", "-104", "0", "0"],
        )

    def test_lxi_tools_read_the_meter(self):
        def asked(question):
            done = subprocess.run(["lxi", "scpi", "--raw", "--address", "127.0.0.1", "--port",
                                   str(self.ports["meter"]), question], capture_output=True, text=True, timeout=20)  # fmt: skip
            return done.stdout.strip()

        self.assertEqual(asked("*IDN?"), "Afterload,Simulated meter,1,1.0")
        self.assertAlmostEqual(float(asked("MEASure:VOLTage:AC?")), 230, delta=5)
        self.assertAlmostEqual(float(asked("MEAS:TEMP? (@3)")), 22, delta=3)

    def test_pyvisa_drives_source_meter_and_relays_one_after_the_other(self):
        source, meter, relays = self.visa("source"), self.visa("meter"), self.visa("relays")
        self.assertEqual(source.query("*IDN?"), "Afterload,Simulated source,1,1.0")
        relays.write("ROUT:CLOS (@101)")
        self.assertEqual(relays.query("ROUT:CLOS? (@101)"), "1")
        relays.write("ROUT:CLOS (@202)")
        relays.write("ROUT:CLOS (@201)")
        self.assertEqual([relays.query(f"ROUT:CLOS? (@{n})") for n in (201, 202)], ["1", "0"])
        self.assertLess(abs(float(meter.query("MEAS:DC? (@1)"))), 0.1)
        self.assertEqual(meter.query("MEAS:DC? (@3);:SYST:ERR?"), '-222,"Data out of range"')
        source.write("FREQ 997;VOLT 0.1;:OUTP ON")
        self.assertEqual(source.query("*OPC?;:OUTP?"), "1;1")
        source.write("*RST")
        self.assertEqual(source.query("OUTP?;:SYST:ERR?"), '0;0,"No error"')

    def test_pyvisa_sets_the_programmable_load_and_turns_it_on_and_off(self):
        load = self.visa("load")
        self.assertEqual(load.query("*IDN?"), "Afterload,Simulated load,1,1.0")
        load.write("SOURce:RESistance 8 OHM")
        self.assertAlmostEqual(float(load.query("RES?")), 8, places=6)
        self.assertEqual(load.query("INPut:STATe?"), "0")
        load.write("INP ON")
        self.assertEqual(load.query("inp?"), "1")
        load.write("RES 100;INP OFF")
        self.assertEqual(load.query("INP?;:SYST:ERR?").split(",")[0], '0;-222')

    def test_output_and_relays_are_stamped_with_the_monotonic_clock(self):
        before = time.monotonic()
        self.netcat("source", "OUTP ON", "OUTP ON", "OUTP OFF", "OUTP?")
        self.netcat("relays", "ROUT:CLOS (@101)", "ROUT:CLOS? (@101)")
        after = time.monotonic()
        lines = [self.served.stdout.readline() for _ in range(3)]
        stamps = [float(line.split()[0]) for line in lines]
        self.assertEqual([line.split(" ", 1)[1].strip() for line in lines],
                         ["source output on", "source output off", "relay 101 closed"])  # fmt: skip
        self.assertEqual(stamps, sorted(stamps))
        self.assertLess(before - 1e-3, stamps[0])
        self.assertLess(stamps[-1], after + 1e-3)

    def test_second_client_waits_until_the_first_has_gone(self):
        first = socket.create_connection(("127.0.0.1", self.ports["meter"]), timeout=5)
        first.sendall(b"*IDN?\n")
        self.assertRegex(first.recv(100).decode(), "Simulated meter")
        second = socket.create_connection(("127.0.0.1", self.ports["meter"]), timeout=0.5)
        second.sendall(b"*IDN?\n")
        with self.assertRaises(TimeoutError):
            second.recv(100)
        first.close()
        second.settimeout(5)
        self.assertRegex(second.recv(100).decode(), "Simulated meter")
        second.close()

    def test_line_without_an_end_closes_the_connection_and_the_next_is_served(self):
        with socket.create_connection(("127.0.0.1", self.ports["source"]), timeout=5) as client:
            client.sendall(8000 * b"x")
            try:
                self.assertEqual(client.recv(100), b"")
            except ConnectionResetError:
                pass  # it went with bytes unread
        self.assertEqual(self.netcat("source", "*OPC?"), ["1"])

    def test_a_port_that_is_taken_is_said(self):
        done = subprocess.run([PROGRAM, "simulate", BENCH, "--port", str(self.ports["source"])],
                              capture_output=True, text=True, timeout=20)  # fmt: skip
        self.assertEqual(done.returncode, 69)
        self.assertTrue(re.search(rf"port {self.ports['source']} .*[Aa]ddress already in use", done.stderr), done.stderr)


if __name__ == "__main__":
    unittest.main()

"""A simulated bench on wires in one process, and runs that drive it from another."""

import json
import os
import signal
import subprocess
import threading
import time

from analyze import PROGRAM

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
SIMULATED = os.path.join(ROOT, "fixtures/benches/north-48k.bench.yaml")
ON_WIRES = os.path.join(ROOT, "fixtures/benches/on-wires.bench.yaml")
SEQUENCE = os.path.join(ROOT, "fixtures/sequences/generator.sequence.yaml")
UNIT = os.path.join(ROOT, "fixtures/units/hollinfay-h40.rating.yaml")
HOUSE = os.path.join(ROOT, "fixtures/house.rating.yaml")
NAMES = ("source", "meter", "relays", "digitiser", "load")


class Served:
    """`afterload simulate`: its ports, and when it says that an output changed (monotonic clock)."""

    def __init__(self):
        self.process = subprocess.Popen([PROGRAM, "simulate", SIMULATED], stdout=subprocess.PIPE, text=True)
        self.ports = {}
        while len(self.ports) < len(NAMES):
            name, address = self.process.stdout.readline().split()
            self.ports[name] = int(address.rsplit(":", 1)[1])
        self.stamps = []
        self.reader = threading.Thread(target=self.read, daemon=True)
        self.reader.start()

    def read(self):
        for line in self.process.stdout:
            when, what = line.rstrip().split(" ", 1)
            self.stamps.append((float(when), what))

    def last(self, what):
        """(when, "on") of the last change of `what`; (0, "off") before the first."""
        for when, said in reversed(list(self.stamps)):
            if said.startswith(what + " "):
                return when, said[len(what) + 1 :]
        return 0.0, "off"

    def on_at(self, when):
        state = False
        for stamp, what in list(self.stamps):
            if stamp <= when and what.startswith("source output "):
                state = what.endswith(" on")
        return state

    def first_off_after(self, when, patience):
        until = time.monotonic() + patience
        while time.monotonic() < until:
            for stamp, what in list(self.stamps):
                if stamp >= when and what == "source output off":
                    return stamp
            time.sleep(0.005)
        return None

    def close(self):
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            self.process.wait(10)
        self.process.stdout.close()


def bench_file(folder, ports, name="on-wires.bench.yaml"):
    with open(ON_WIRES, encoding="utf-8") as file:
        text = file.read()
    for n, instrument in enumerate(NAMES):
        text = text.replace(f":{5025 + n}\n", f":{ports[instrument]}\n")
    path = os.path.join(folder, name)
    with open(path, "w", encoding="utf-8") as file:
        file.write(text)
    return path


def environment(folder):
    """A runtime folder of the test's own, so that no other's guardian is met."""
    own = os.path.join(folder, "runtime")
    os.makedirs(own, mode=0o700, exist_ok=True)
    return dict(os.environ, XDG_RUNTIME_DIR=own)


def start_run(folder, bench, sequence=SEQUENCE, more=(), variables=None):
    """A person at the terminal who answers every prompt with Enter."""
    child = subprocess.Popen([PROGRAM, "run", sequence, "--unit", UNIT, "--house", HOUSE, "--bench", bench,
                              "--runs", os.path.join(folder, "runs"), *more],
                             stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                             env=dict(environment(folder), **(variables or {})))  # fmt: skip
    child.stdin.write("\n" * 40)
    child.stdin.flush()
    return child


def documents(folder):
    runs = os.path.join(folder, "runs")
    found = []
    for name in sorted(os.listdir(runs)) if os.path.isdir(runs) else []:
        with open(os.path.join(runs, name, "run.json"), encoding="utf-8") as file:
            found.append(json.load(file))
    return found


def guardian_of(parent):
    """The process id of the guardian that a run, or a service, has started."""
    listed = subprocess.run(["ps", "--ppid", str(parent.pid), "-o", "pid=,comm="], capture_output=True, text=True)
    for line in listed.stdout.splitlines():
        number, name = line.split(None, 1)
        if name.startswith("afterload-guard"):
            return int(number)
    return None

"""A daemon of the tests: started with folders of its own, asked over its socket, ended."""

import http.client
import json
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time

from analyze import PROGRAM

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
DAEMON = PROGRAM + "d"


def fixture(path):
    return os.path.join(ROOT, "fixtures", path)


def text_of(path):
    with open(path, encoding="utf-8") as file:
        return file.read()


QUICK = os.path.join(ROOT, "sequences/shipped/quick-check.sequence.yaml")

# One record and one figure: the shortest run that drives.
SHORT = """afterload: sequence/1
title: One tone
steps:
  - name: offset
    meters:
      - {reads: dc_offset, gate: true}
  - name: level
    input: line
    output: speaker_a
    path: direct
    volume: maximum
    signal: tone
    frequency: 997 Hz
    level: 0.1 W
    record: 0.2 s
    figures: [thd]
"""

# The same behind a prompt.
PROMPTED = SHORT.replace("  - name: offset\n", "  - name: offset\n    prompt:\n      title: Set the volume control\n")


class OverSocket(http.client.HTTPConnection):
    def __init__(self, path, timeout=60):
        super().__init__("localhost", timeout=timeout)
        self.path = path

    def connect(self):
        self.sock = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.sock.settimeout(self.timeout)
        self.sock.connect(self.path)


def submission(sequence=SHORT, serial="40-0117", **more):
    document = {
        "schema": "afterload/submission/1",
        "files": [
            {"role": "sequence", "path": "one.sequence.yaml", "text": sequence},
            {
                "role": "rating",
                "path": "hollinfay-h40.rating.yaml",
                "text": text_of(fixture("units/hollinfay-h40.rating.yaml")),
            },
            {"role": "house", "path": "house.rating.yaml", "text": text_of(fixture("house.rating.yaml"))},
        ],
        "serial": serial,
        "stage": "repaired",
        "assume_prompts": True,
    }
    document.update(more)
    return document


# Variables of the environment that a daemon takes for its own settings: those of whoever runs the tests are not.
SETTINGS = {
    "AFTERLOAD_" + name
    for name in (
        "CONFIG", "BENCH", "RUNS", "STATE", "SOCKET", "LOG", "QUEUE_LIMIT", "TCP_ADDRESS", "TCP_PORT", "TCP_TOKEN_FILE",
    )
}  # fmt: skip


class Daemon:
    def __init__(self, bench=fixture("benches/north.bench.yaml"), environment=None, words=()):
        self.folder = tempfile.mkdtemp(prefix="afd")
        self.socket = os.path.join(self.folder, "d.sock")
        self.state = os.path.join(self.folder, "state")
        self.runs = os.path.join(self.state, "runs")
        self.bench = bench
        self.environment = environment or {}
        self.words = list(words)
        self.child = None
        self.said = os.path.join(self.folder, "said.txt")

    def start(self, wait=True):
        environment = {name: value for name, value in os.environ.items() if name not in SETTINGS}
        environment.update(self.environment, XDG_CONFIG_HOME=self.folder)
        words = [DAEMON, "--state", self.state, "--socket", self.socket, "--log", "stderr"]
        if self.bench:
            words += ["--bench", self.bench]
        with open(self.said, "ab") as said:
            self.child = subprocess.Popen(
                words + self.words, env=environment, stdout=said, stderr=said, stdin=subprocess.DEVNULL
            )
        if wait:
            self.wait_until_it_answers()
        return self

    def wait_until_it_answers(self):
        until = time.monotonic() + 60
        while time.monotonic() < until:
            if self.child.poll() is not None:
                raise AssertionError("it ended: " + text_of(self.said))
            try:
                if self.ask("GET", "/v1/health")[0] == 200:
                    return
            except OSError:
                pass
            time.sleep(0.05)
        raise AssertionError("it does not answer: " + text_of(self.said))

    def raw(self, method, target, body=None, headers=None):
        connection = OverSocket(self.socket)
        try:
            connection.request(method, target, body, {"Content-Type": "application/json", **(headers or {})})
            answer = connection.getresponse()
            return answer.status, answer.headers.get_content_type(), answer.read()
        finally:
            connection.close()

    def ask(self, method, target, document=None):
        body = None if document is None else json.dumps(document)
        status, _, answer = self.raw(method, target, body)
        return status, json.loads(answer)

    def submit(self, **more):
        return self.ask("POST", "/v1/queue", submission(**more))

    def entry(self, name):
        return self.ask("GET", "/v1/queue/" + name)[1]

    def until_over(self, name, patience=300):
        until = time.monotonic() + patience
        while time.monotonic() < until:
            entry = self.entry(name)
            if entry["state"] in ("done", "refused", "cancelled", "interrupted"):
                return entry
            time.sleep(0.05)
        raise AssertionError(f"{name} does not end: {entry}")

    def until(self, what, patience=60):
        until = time.monotonic() + patience
        while time.monotonic() < until:
            status = self.ask("GET", "/v1/status")[1]
            if what(status):
                return status
            time.sleep(0.02)
        raise AssertionError(f"never seen; last: {status}")

    def command(self, *words, **more):
        return subprocess.run(
            [PROGRAM, "--socket", self.socket, *words], capture_output=True, text=True, check=False, **more
        )

    def end(self, number=signal.SIGTERM):
        self.child.send_signal(number)
        return self.child.wait(timeout=120)

    def clear(self):
        if self.child and self.child.poll() is None:
            self.child.kill()
            self.child.wait()
        shutil.rmtree(self.folder, ignore_errors=True)


def events_of(daemon, last="0", until=lambda event: False, patience=60):
    """Server-sent events after `last`, up to the first that `until` wants."""
    connection = OverSocket(daemon.socket, timeout=patience)
    connection.request("GET", "/v1/events", headers={"Last-Event-ID": last})
    answer = connection.getresponse()
    events, data = [], {}
    try:
        while True:
            line = answer.fp.readline().decode()
            if not line:
                break
            if line.startswith("id: "):
                data["id"] = int(line[4:])
            elif line.startswith("event: "):
                data["event"] = line[7:].strip()
            elif line.startswith("data: "):
                data["data"] = json.loads(line[6:])
            elif line == "\n" and data:
                events.append(data)
                if until(data):
                    break
                data = {}
    finally:
        connection.close()
    return events


def over(name):
    return lambda event: event["event"] == "queue" and event["data"]["data"]["id"] == name and event["data"]["data"][
        "state"
    ] in ("done", "refused", "cancelled", "interrupted")

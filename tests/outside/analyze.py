"""Calls `afterload analyze` as a person would and picks figures out of its documents.

The program under test is the one that AFTERLOAD names.
"""

import json
import os
import subprocess

PROGRAM = os.environ.get("AFTERLOAD", "")


class Analysis:
    """What one call gave: exit status, documents in order, what went to standard error."""

    def __init__(self, done):
        self.status = done.returncode
        self.errors = done.stderr
        self.documents = [json.loads(line) for line in done.stdout.splitlines() if line]


def analyze(captures, *options):
    """Runs `afterload analyze CAPTURE... OPTIONS --json`."""
    if not PROGRAM:
        raise RuntimeError("AFTERLOAD does not name the program")
    done = subprocess.run(
        [PROGRAM, "analyze", *map(str, captures), *options, "--json"],
        capture_output=True,
        text=True,
        timeout=300,
    )
    if done.returncode < 0:
        raise RuntimeError(f"ended by signal {-done.returncode}:\n{done.stderr}")
    return Analysis(done)


def figure(document, name, channel=1, **conditions):
    """The figure of that name and channel whose conditions hold what is asked for."""
    found = [
        each
        for part in document["channels"]
        if part["channel"] == channel
        for each in part["figures"]
        if each["figure"] == name
        and all(each.get("conditions", {}).get(key) == value for key, value in conditions.items())
    ]
    if len(found) != 1:
        present = [
            (each["figure"], each.get("conditions"))
            for part in document["channels"]
            for each in part["figures"]
        ]
        raise AssertionError(
            f"{len(found)} figures {name} {conditions} of channel {channel} among {present}"
        )
    return found[0]


def value(document, name, channel=1, **conditions):
    found = figure(document, name, channel, **conditions)
    if found.get("value") is None:
        raise AssertionError(f"{name} of channel {channel} has no value: {found}")
    return found["value"]


def faults(document):
    return {each["kind"] for each in document["capture"]["faults"]}

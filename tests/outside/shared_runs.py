"""Runs on the simulated bench that several tests look at, made once a build.

The same build and seeds give the same bytes, so that a run which one test made serves the next. They
stand beside the program; a newer program makes them anew. Tests that alter one work on a copy.
"""

import fcntl
import hashlib
import json
import os
import re
import shutil
import subprocess

from analyze import PROGRAM

ROOT = os.path.realpath(os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", ".."))
QUICK_CHECK = os.path.join(ROOT, "sequences", "shipped", "quick-check.sequence.yaml")


def fixture(*path):
    return os.path.join(ROOT, "fixtures", *path)


def ask(*words, **others):
    """Exit status, standard output and standard error of the program."""
    done = subprocess.run([PROGRAM, *words], capture_output=True, text=True, timeout=600, **others)
    if done.returncode < 0:
        raise AssertionError(f"ended by signal {-done.returncode}: {done.stderr}")
    return done.returncode, done.stdout, done.stderr


def read(path):
    with open(path, encoding="utf-8") as file:
        return file.read()


def shared_run(bench, run_seed, stage, serial="40-0117"):
    """Folder of a quick check on `bench` of the fixtures with another run seed. Not to be altered."""
    text, changed = re.subn(r"run: 42\b", f"run: {run_seed}", read(fixture("benches", f"{bench}.bench.yaml")))
    if changed != 1:
        raise AssertionError("the bench states no run seed of 42")
    unit, house = fixture("units/hollinfay-h40.rating.yaml"), fixture("house.rating.yaml")
    of_program = os.stat(PROGRAM)
    program = f"{of_program.st_mtime_ns} {of_program.st_size}"
    parts = [program, text, stage, serial, read(QUICK_CHECK), read(unit), read(house)]
    key = hashlib.sha256("\0".join(parts).encode()).hexdigest()[:16]
    store = os.path.join(os.path.dirname(os.path.dirname(os.path.abspath(PROGRAM))), "shared-runs")
    os.makedirs(store, exist_ok=True)
    with open(os.path.join(store, "lock"), "w", encoding="utf-8") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        made_by = os.path.join(store, "program")
        if not os.path.exists(made_by) or read(made_by) != program:
            for name in os.listdir(store):
                if name not in ("lock", "program"):
                    shutil.rmtree(os.path.join(store, name))
            with open(made_by, "w", encoding="utf-8") as file:
                file.write(program)
        place = os.path.join(store, key)
        if not os.path.exists(os.path.join(place, "id")):
            shutil.rmtree(place, ignore_errors=True)
            os.makedirs(place)
            bench_file = os.path.join(place, f"{bench}.bench.yaml")
            with open(bench_file, "w", encoding="utf-8") as file:
                file.write(text)
            status, out, said = ask(
                "run", QUICK_CHECK, "--unit", unit, "--house", house, "--bench", bench_file,
                "--serial", serial, "--stage", stage, "--assume-prompts",
                "--runs", os.path.join(place, "runs"), "--json",
            )  # fmt: skip
            if status > 2:
                raise AssertionError(out + said)
            with open(os.path.join(place, "id"), "w", encoding="utf-8") as file:
                file.write(json.loads(out)["id"])
        return os.path.join(place, "runs", read(os.path.join(place, "id")))


def received():
    """As it came in: starved bias left, a dried coupling capacitor right."""
    return shared_run("north-as-received", 42, "as_received")


def mended():
    """The same unit, mended."""
    return shared_run("north", 42, "repaired")


def again():
    """The mended one set up again: another run seed, and nothing else."""
    return shared_run("north", 4711, "repaired")

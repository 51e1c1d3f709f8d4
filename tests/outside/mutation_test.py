"""Damaged inputs: files that ship, with bytes changed, cut, doubled or swapped, from one seed. The
program answers every one with a status of its own: never a signal, never a sanitizer's report, and
within its time.

AFTERLOAD_MUTATIONS says how many of each kind (200); AFTERLOAD_SEED which (1). A failure keeps the
file and names it.
"""

import glob
import os
import random
import shutil
import subprocess
import tempfile
import unittest

import numpy as np

import wave_file
from analyze import PROGRAM

ROOT = os.path.realpath(os.path.join(os.path.dirname(__file__), "..", ".."))
COUNT = int(os.environ.get("AFTERLOAD_MUTATIONS", "200"))
SEED = int(os.environ.get("AFTERLOAD_SEED", "1"))
SECONDS_A_CALL = 60
FILES_A_CALL = 20

WORDS = [
    b"1 kHz", b"8", b"8 ohm", b"-60 dBV", b"1/8 rated", b"1e400", b"-0", b"nan", b"0 ohm", b"999999999 W",
    b"&a [*a, *a]", b"*a", b"<<: *a", b"!!binary AAAA", b"{", b"]", b"- ", b": ", b"\t", b"\0", b"\xff\xfe",
    b"\xc3", b"? ", b"|", b">", b"%", b"#", b"'", b"\"", b"---\n", b"...\n", b"${quiet_record}", b"${",
]  # fmt: skip


def mutated(content, random_source):
    """A copy with one to four changes."""
    content = bytearray(content)
    for _ in range(random_source.randint(1, 4)):
        at = random_source.randrange(len(content) + 1)
        span = random_source.choice((1, 2, 4, 16, 200))
        match random_source.randrange(6):
            case 0:
                content[at : at + 1] = bytes([random_source.randrange(256)])
            case 1:
                del content[at : at + span]
            case 2:
                content[at:at] = content[at : at + span]
            case 3:
                content[at:at] = random_source.choice(WORDS)
            case 4:
                content[at : at + span] = random_source.choice(WORDS)
            case 5:
                start = random_source.randrange(len(content) + 1)
                content[at:at] = content[start : start + span]
    return bytes(content)


class Mutation(unittest.TestCase):
    def answered(self, arguments, allowed):
        done = subprocess.run(
            [PROGRAM, *arguments], capture_output=True, timeout=SECONDS_A_CALL, check=False
        )
        return done.returncode in allowed, done

    def survives(self, sources, ending, before, after, allowed):
        random_source = random.Random(SEED)
        with tempfile.TemporaryDirectory() as folder:
            for start in range(0, COUNT, FILES_A_CALL):
                paths = []
                for number in range(start, min(start + FILES_A_CALL, COUNT)):
                    source = sources[number % len(sources)]
                    paths.append(os.path.join(folder, f"{number}{ending(source)}"))
                    with open(source, "rb") as good, open(paths[-1], "wb") as bad:
                        bad.write(mutated(good.read(), random_source))
                fine, done = self.answered([*before, *paths, *after], allowed)
                if not fine:
                    self.blame(paths, before, after, allowed, done)
                for path in paths:
                    os.remove(path)

    def blame(self, paths, before, after, allowed, done):
        """Names the one file that does it, and keeps it."""
        for path in paths:
            fine, alone = self.answered([*before, path, *after], allowed)
            if not fine:
                kept = os.path.join(tempfile.gettempdir(), "afterload-" + os.path.basename(path))
                shutil.copy(path, kept)
                self.fail(f"{kept}: status {alone.returncode}\n{alone.stderr.decode(errors='replace')}")
        self.fail(f"together: status {done.returncode}\n{done.stderr.decode(errors='replace')}")

    def test_files_that_a_person_writes_are_checked_whatever_stands_in_them(self):
        sources = sorted(
            path
            for pattern in ("fixtures/**/*.yaml", "sequences/shipped/*.yaml")
            for path in glob.glob(os.path.join(ROOT, pattern), recursive=True)
            if "broken" not in path
        )
        self.assertGreater(len(sources), 3)
        self.survives(
            sources,
            lambda source: "." + os.path.basename(source).split(".", 1)[1],
            ["check"],
            [],
            {0, 65},
        )

    def test_recordings_are_analysed_whatever_stands_in_them(self):
        with tempfile.TemporaryDirectory() as folder:
            t = np.arange(4800) / 48000
            tone = 0.5 * np.sin(2 * np.pi * 997 * t)
            sources = []
            for bits, floating in ((16, False), (24, False), (32, True)):
                sources.append(os.path.join(folder, f"{bits}.wav"))
                wave_file.write(sources[-1], np.column_stack([tone, tone]), 48000, bits, floating)
            after = ["--signal", "tone", "--full-scale", "1V", "--json"]
            self.survives(sources, lambda _: ".wav", ["analyze"], after, {0, 2, 65})


if __name__ == "__main__":
    unittest.main()

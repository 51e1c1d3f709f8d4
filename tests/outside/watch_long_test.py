"""A capture of more than 4 GB, as RF64 is made for: read in blocks, its last fault found, in
memory that does not grow with it. Needs 5 GB of disk for a minute."""

import json
import os
import struct
import subprocess
import sys
import tempfile
import unittest

import numpy as np

from analyze import PROGRAM

RATE = 192000
MINUTES = 63

# A process counts the memory of the one it was started from as its own peak: a small one stands
# between, and prints the peak.
BETWEEN = """
import resource, subprocess, sys
done = subprocess.run(sys.argv[1:])
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss, file=sys.stderr)
sys.exit(done.returncode)
"""


class LongCapture(unittest.TestCase):
    def test_more_than_four_gigabytes_are_watched_in_little_memory(self):
        t = np.arange(60 * RATE) / RATE
        noise = np.random.default_rng(5)
        steps = np.empty((len(t), 2), dtype="<i4")
        for channel, amplitude in enumerate((0.5, 0.4)):
            # whole cycles in a minute: one minute follows the other
            tone = amplitude * np.cos(2 * np.pi * 997 * t + channel)
            tone += 1e-5 * noise.standard_normal(len(t))
            steps[:, channel] = np.rint(2**23 * tone)
        minute = steps.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
        del t, tone, steps
        missing = 6 * 137
        size = MINUTES * len(minute) - missing
        self.assertGreater(size, 2**32)
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "long.rf64")
            with open(path, "wb") as file:
                file.write(b"RF64\xff\xff\xff\xffWAVE")
                file.write(struct.pack("<4sIQQQI", b"ds64", 28, size + 72, size, size // 6, 0))
                file.write(struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 2, RATE, 6 * RATE, 6, 24))
                file.write(b"data\xff\xff\xff\xff")
                for _ in range(MINUTES - 1):
                    file.write(minute)
                half = len(minute) // 12 * 6
                file.write(minute[:half])
                file.write(minute[half + missing :])
            done = subprocess.run(
                [sys.executable, "-c", BETWEEN]
                + [PROGRAM, "analyze", path, "--watch", "--mains", "50Hz", "--json"],
                capture_output=True,
                text=True,
                timeout=500,
            )
        document = json.loads(done.stdout)
        self.assertEqual(done.returncode, 2, done.stderr)
        self.assertEqual(document["capture"]["frames"], size // 6)
        self.assertEqual(
            [(e["class"], e["channel"], e["size"]) for e in document["events"]], [("gap", 0, 137)]
        )
        self.assertAlmostEqual(document["events"][0]["start_s"], 60 * MINUTES - 30, delta=0.0005)
        peak_mib = int(done.stderr.split()[-1]) / 1024
        # The sanitizers alone take some; the file has 4,300.
        self.assertLess(peak_mib, 200)


if __name__ == "__main__":
    unittest.main()

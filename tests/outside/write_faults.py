"""The daemon on a disk that fails: killed, torn, full or broken at a write of a run.

After each the daemon is started again on a sound disk: the index and the folders agree, every step that
was told as done is there, no half file is taken for a whole one, and nothing is begun again by itself.
"""

import json
import mmap
import os
import shutil
import struct
import tempfile
import unittest

from analyze import PROGRAM
from daemon import SHORT, Daemon, events_of, over, text_of

SHIM = os.path.join(os.path.dirname(PROGRAM), "afterload_write_faults.so")
TWO_STEPS = SHORT + "  - name: again" + SHORT.split("  - name: level")[1]


class Disk:
    """What the shim is told, and the count that it keeps."""

    def __init__(self, folder):
        self.folder = folder
        self.path = os.path.join(folder, "count")
        with open(self.path, "wb") as file:
            file.write(bytes(8))

    def environment(self, under, kind, at):
        return {
            "LD_PRELOAD": SHIM,
            "ASAN_OPTIONS": "verify_asan_link_order=0:detect_leaks=0",
            "AFTERLOAD_FAULT_UNDER": under,
            "AFTERLOAD_FAULT_COUNT": self.path,
            "AFTERLOAD_FAULT_KIND": kind,
            "AFTERLOAD_FAULT_AT": str(at),
        }

    def count(self):
        with open(self.path, "rb") as file, mmap.mmap(file.fileno(), 8, access=mmap.ACCESS_READ) as seen:
            return struct.unpack("<Q", seen[:8])[0]


class FailingDisk(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp()
        self.addCleanup(shutil.rmtree, self.folder)

    def daemon(self, kind, at):
        daemon = Daemon()
        self.addCleanup(daemon.clear)
        disk = Disk(tempfile.mkdtemp(dir=self.folder))
        daemon.environment = disk.environment(daemon.state, kind, at)
        return daemon, disk

    def work(self, daemon, lasting=False):
        """Starts it and hands it a run; as far as that goes. The last steps that were told as done.

        On a disk whose fault is `lasting` the daemon waits for another one as soon as it cannot keep its queue.
        """
        told = 0

        def waits(event):
            return lasting and event["event"] == "trouble" and daemon.state + "/queue/" in event["data"]["data"]["what"]

        try:
            daemon.start()
            status, entry = daemon.submit(sequence=TWO_STEPS)
            if status != 202:
                return told, entry
            ended = over(entry["id"])
            for event in events_of(daemon, "0", lambda event: ended(event) or waits(event)):
                if event["event"] == "step_ended" and "id" in event:
                    told = event["data"]["data"]["step"]
            return told, daemon.entry(entry["id"])
        except (OSError, AssertionError, ValueError, KeyError):
            return told, None

    def whole_count(self):
        daemon, disk = self.daemon("kill", 0)
        _, entry = self.work(daemon)
        self.assertEqual(entry["state"], "done")
        daemon.end()
        count = disk.count()
        daemon.clear()
        return count

    def folders(self, daemon):
        if not os.path.isdir(daemon.runs):
            return []
        return sorted(
            name for name in os.listdir(daemon.runs) if os.path.exists(os.path.join(daemon.runs, name, "run.json"))
        )

    def sound_again(self, daemon, told):
        begun = self.folders(daemon)
        daemon.environment = {}
        daemon.start()
        for entry in daemon.ask("GET", "/v1/queue")[1]["entries"]:
            if entry["state"] in ("waiting", "running"):
                # What was in the queue and had not begun goes on; what had begun never does.
                self.assertEqual(begun, [], "begun again by itself")
                daemon.until_over(entry["id"])
        listed = json.loads(daemon.command("list", "--json").stdout)["runs"]
        self.assertEqual(sorted(run["id"] for run in listed), self.folders(daemon))
        for run in listed:
            # Whole as far as it says it goes: every figure comes out of the stored records again.
            folder = os.path.join(daemon.runs, run["id"])
            with open(os.path.join(folder, "run.json"), encoding="utf-8") as file:
                document = json.load(file)
            self.assertIn(document["state"], ("done", "stopped", "interrupted"))
            self.assertEqual(document["state"], run["state"])
            self.assertGreaterEqual(len(document["steps"]), told)
            if document["steps"]:
                again = daemon.command("replay", folder, "--json")
                self.assertEqual(again.returncode, 0, again.stdout + again.stderr)
        # And it works.
        status, entry = daemon.submit()
        self.assertEqual(status, 202, entry)
        self.assertEqual(daemon.until_over(entry["id"])["state"], "done")

    def at_point(self, kind, at):
        with self.subTest(kind=kind, at=at):
            daemon, disk = self.daemon(kind, at)
            told, _ = self.work(daemon, lasting=kind in ("full", "broken"))
            if daemon.child.poll() is None:
                daemon.end()
            self.assertGreaterEqual(disk.count(), at)
            told_of = [line.partition(" ")[2] for line in text_of(daemon.said).splitlines() if " trouble " in line]
            self.assertEqual(len(told_of), len(set(told_of)), "the same trouble again and again")
            self.sound_again(daemon, told)
            daemon.clear()

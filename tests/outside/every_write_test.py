"""The daemon on a disk that fails at every single write of a run, in five ways.

AFTERLOAD_STRIDE=10 takes every tenth write point.
"""

import os
import random
import threading
import time
import unittest

from daemon import QUICK, Daemon, text_of
from write_faults import FailingDisk


class EveryWrite(FailingDisk):
    def sweep(self, kind):
        whole = self.whole_count()
        self.assertGreater(whole, 50)
        points = range(1, whole + 1, int(os.environ.get("AFTERLOAD_STRIDE", "1")))
        for at in points:
            self.at_point(kind, at)
        print(f"{kind}: {len(points)} of {whole} write points")

    def test_killed_before_it_loses_nothing_that_was_told(self):
        self.sweep("kill")

    def test_killed_within_it_loses_nothing_that_was_told(self):
        self.sweep("torn")

    def test_full_from_it_on_loses_nothing_that_was_told(self):
        self.sweep("full")

    def test_broken_from_it_on_loses_nothing_that_was_told(self):
        self.sweep("broken")

    def test_failing_once_loses_nothing_that_was_told(self):
        self.sweep("once")


class RandomMoments(FailingDisk):
    def test_killed_at_any_of_them_it_loses_nothing_that_was_told(self):
        seed = int(os.environ.get("AFTERLOAD_SEED", "1"))
        moments = int(os.environ.get("AFTERLOAD_MOMENTS", "200"))
        print(f"seed {seed}, {moments} moments")
        draw = random.Random(seed)
        for n in range(moments):
            with self.subTest(moment=n):
                daemon = Daemon()
                self.addCleanup(daemon.clear)
                daemon.start()
                _, entry = daemon.submit(sequence=text_of(QUICK), stage="as_received")
                told = []

                def listen(daemon=daemon, told=told):
                    last = "0"
                    while daemon.child.poll() is None:
                        for event in self.heard(daemon, last):
                            last = str(event.get("id", last))
                            if event["event"] == "step_ended" and "id" in event:
                                told.append(event["data"]["data"]["step"])

                listener = threading.Thread(target=listen)
                listener.start()
                time.sleep(draw.uniform(0.0, 4.0))
                daemon.child.kill()
                daemon.child.wait()
                listener.join()
                self.sound_again(daemon, max(told, default=0))
                daemon.clear()

    @staticmethod
    def heard(daemon, last):
        from daemon import events_of

        try:
            return events_of(daemon, last, patience=10)
        except (OSError, ValueError):
            return []


if __name__ == "__main__":
    unittest.main()

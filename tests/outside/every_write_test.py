"""The daemon on a disk that fails at every single write of a run, in five ways.

AFTERLOAD_STRIDE=10 takes every tenth write point.
"""

import os
import unittest

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


if __name__ == "__main__":
    unittest.main()

"""A few of the write points of every_write_test.py, of every kind."""

import unittest

from write_faults import FailingDisk


class SomeWrites(FailingDisk):
    def test_that_fail_lose_nothing_that_was_told(self):
        whole = self.whole_count()
        self.assertGreater(whole, 50)
        for n, kind in enumerate(("kill", "torn", "full", "broken", "once")):
            self.at_point(kind, 1 + (2 * n + 1) * whole // 10)


if __name__ == "__main__":
    unittest.main()

"""What happens to a sound card in the middle of a record, made to happen to an audio server that
stands for one: each is noticed and named, and the run ends or goes on as it should.
"""

import os
import signal
import tempfile
import time
import unittest

from audio_server import AudioServer
from stand_in import amplifier, outcome, run

SEQUENCE = """afterload: sequence/1
title: One long tone
steps:
  - name: controls and offset
    prompt:
      title: Controls for the direct path
      controls: {input: line, volume: maximum}
    meters:
      - {reads: dc_offset, gate: true}
  - name: a short tone
    input: line
    output: speaker_a
    path: direct
    volume: maximum
    signal: tone
    frequency: 997 Hz
    level: 1 W
    record: 0.5 s
    further_record: 0 s
    figures: [output_voltage]
  - name: a long tone
    signal: tone
    frequency: 997 Hz
    level: 1 W
    record: 4 s
    further_record: 0 s
    figures: [output_voltage]
"""


def for_a_moment(seconds, *what):
    """Something that a server can be told to do and to end."""

    def happens(server):
        server.pactl(*what, "1")
        time.sleep(seconds)
        server.pactl(*what, "0")

    return happens


class AudioServerFaults(unittest.TestCase):
    def carried_out(self, happens):
        """The run's document, its exit status, and how long it lived after `happens(server)` was called
        in the middle of the long tone."""
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        sequence = os.path.join(folder.name, "long-tone.sequence.yaml")
        with open(sequence, "w") as file:
            file.write(SEQUENCE)
        with AudioServer(folder.name) as server:
            amplifier(server)
            child = run(folder.name, server, sequence)
            for line in child.stderr:
                if line.startswith("step 2/3"):
                    break
            time.sleep(2.5)
            self.assertIsNone(child.poll(), "the run was over before anything happened")
            happens(server)
            since = time.monotonic()
            child.communicate(timeout=60)
            lived = time.monotonic() - since
            server.server.send_signal(signal.SIGCONT)
        return outcome(folder.name)[1], child.returncode, lived

    def stopped(self, happens, reason):
        document, status, lived = self.carried_out(happens)
        self.assertEqual(status, 3)
        self.assertEqual(document["state"], "stopped")
        self.assertIn("stand-in card", document["stop_reason"].replace("bench_card", "stand-in card"))
        self.assertRegex(document["stop_reason"], reason)
        print(f"{lived:.2f} s: {document['stop_reason']}")
        # Output off within half a second; the run then writes its papers.
        self.assertLess(lived, 3.0)

    def test_server_that_ends_stops_the_run(self):
        self.stopped(lambda server: server.server.kill(), "stopped and cannot be started again|no frame came in")

    def test_server_that_hangs_stops_the_run(self):
        self.stopped(lambda server: server.server.send_signal(signal.SIGSTOP), "no frame came in")

    def test_sink_that_is_removed_stops_the_run(self):
        self.stopped(lambda server: server.pactl("unload-module", "module-null-sink"), "stopped and cannot be started again|no frame came in")

    def long_tone(self, document):
        self.assertEqual(document["state"], "done", document.get("stop_reason"))
        return document["steps"][2]

    def test_sink_that_is_suspended_for_a_moment_is_a_retake(self):
        document, _, _ = self.carried_out(for_a_moment(0.25, "suspend-sink", "bench"))
        step = self.long_tone(document)
        print(step["retakes"])
        self.assertGreaterEqual(len(step["retakes"]), 1)

    def test_volume_that_was_turned_is_a_level_event(self):
        document, _, _ = self.carried_out(lambda server: server.pactl("set-sink-volume", "amplifier", "80%"))
        step = self.long_tone(document)
        print(step["events"])
        self.assertGreaterEqual(len(step["events"]), 1)
        event = step["events"][0]
        self.assertEqual((event["class"], event["channel"], event["blame"]), ("level", 0, "unit_or_mains"))

    def test_mute_of_thirty_milliseconds_is_seen(self):
        document, _, _ = self.carried_out(for_a_moment(0.03, "set-sink-mute", "amplifier"))
        step = self.long_tone(document)
        print(step["retakes"], step["events"])
        self.assertGreaterEqual(len(step["retakes"]) + len(step["events"]), 1)


if __name__ == "__main__":
    unittest.main()

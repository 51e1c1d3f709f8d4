"""A soak in real time on an audio server that stands for the sound card: what is muted and turned down in
it is found, when it happened, and kept. Three minutes; AFTERLOAD_SOAK_MINUTES=30 soaks for as long.
"""

import datetime
import os
import resource
import subprocess
import tempfile
import time
import unittest

from audio_server import RATE, AudioServer
from stand_in import amplifier, outcome, run

MINUTES = int(os.environ.get("AFTERLOAD_SOAK_MINUTES", "3"))
MUTED = 0.3  # s, as long as a server needs to be told twice
SEQUENCE = f"""afterload: sequence/1
title: On load in real time
cautions: [loads_not_loudspeakers, hot_load, unattended]
steps:
  - name: controls and offset
    prompt:
      title: Controls for the direct path
      controls: {{input: line, volume: maximum}}
    meters:
      - {{reads: dc_offset, gate: true}}
  - name: soak
    input: line
    output: speaker_a
    path: direct
    volume: maximum
    soak:
      duration: {MINUTES} min
      level: 1 W
"""


def stamp(text):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()


class SoakOnAnAudioServer(unittest.TestCase):
    def carried_out(self, folder):
        """The run's folder and document, and when the server took which word (just before, just after)."""
        sequence = os.path.join(folder, "soak.sequence.yaml")
        with open(sequence, "w") as file:
            file.write(SEQUENCE)
        took = {}
        with AudioServer(folder) as server:

            def tell(word, *words):
                before = time.time()
                server.pactl(*words)
                took[word] = (before, time.time())

            amplifier(server)
            child = run(folder, server, sequence, f"E. Wolff\nyes {MINUTES} min\n")
            for line in child.stderr:
                if "step 1/2" in line:
                    break
            time.sleep(70.0)  # the level found, and a minute
            tell("muted", "set-sink-mute", "amplifier", "1")
            time.sleep(MUTED)
            tell("unmuted", "set-sink-mute", "amplifier", "0")
            time.sleep(30.0)
            # Told from 0.3 dB on; from 0.5 dB on the drive would be turned off.
            tell("turned", "set-sink-volume", "amplifier", "-0.4dB")
            said = child.communicate(timeout=60 * MINUTES + 60)
        usage = resource.getrusage(resource.RUSAGE_CHILDREN)
        print(f"{usage.ru_utime:.1f} s user and {usage.ru_stime:.1f} s system for program and server in {MINUTES} min; "
              f"largest process {usage.ru_maxrss / 1024:.0f} MiB")  # fmt: skip
        path, document = outcome(folder)
        self.assertEqual(document["state"], "done", said)
        return path, document, took

    def test_finds_a_mute_and_a_turned_volume_when_they_happened_and_keeps_their_seconds(self):
        with tempfile.TemporaryDirectory() as folder:
            path, document, took = self.carried_out(folder)
            (step,) = [step for step in document["steps"] if "soak" in step]
            self.assertEqual([event["class"] for event in step["events"]], ["dropout", "level"], step["events"])
            dropout, level = step["events"]
            began = stamp(document["started"])

            def happened(moment, word):
                print(f"{word}: found {1000 * (began + moment - took[word][1]):+.0f} ms after the server had answered")
                self.assertGreater(began + moment, took[word][0] - 0.1)
                self.assertLess(began + moment, took[word][1] + 0.1)

            happened(dropout["since_start_s"], "muted")
            happened(dropout["since_start_s"] + dropout["duration_s"], "unmuted")
            happened(level["since_start_s"], "turned")
            self.assertEqual((dropout["channel"], level["channel"]), (0, 0))
            self.assertAlmostEqual(level["size"], -0.4, delta=0.02)  # the server's volume goes in steps
            for event in step["events"]:
                # Rate, channels, frames, as sox reads them.
                words = [["soxi", of, os.path.join(path, event["record"])] for of in ("-r", "-c", "-s")]
                rate, channels, frames = [int(subprocess.check_output(line)) for line in words]
                self.assertEqual((rate, channels), (RATE, 2))
                self.assertGreater(frames / RATE, 9.9)


if __name__ == "__main__":
    unittest.main()

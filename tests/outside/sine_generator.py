"""A signal generator for tests: it speaks SCPI over TCP, has a clock of its own, and its output goes
to an audio server, where it is added to whatever the card plays, as two resistors would.
"""

import re
import socket
import subprocess
import threading

import numpy as np

RATE = 48000
BLOCK = 480  # samples; how late a command is heard


class SineGenerator:
    IDENTITY = "Afterload,Sine box,7,1.0"

    def __init__(self, server, sink, full_scale, ppm):
        """`full_scale` is V rms of a full-scale sine at the sink; its clock is `ppm` fast."""
        self.scale = 1 / full_scale
        self.faster = 1 + 1e-6 * ppm
        self.hertz = 1000.0
        self.volts = 0.0
        self.on = False
        self.played = []  # (Hz, V) of each time that it was turned on
        self.open = True
        self.player = subprocess.Popen(
            ["pacat", "--playback", f"--device={sink}", "--format=float32le", f"--rate={RATE}", "--channels=2",
             "--latency-msec=30", "--raw"], env=server.environment, stdin=subprocess.PIPE)  # fmt: skip
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.port = self.listening.getsockname()[1]
        self.threads = [threading.Thread(target=self.play), threading.Thread(target=self.serve, daemon=True)]
        for thread in self.threads:
            thread.start()

    def close(self):
        self.open = False
        self.threads[0].join(10)
        self.listening.close()
        self.player.terminate()
        self.player.wait(10)

    def play(self):
        """The server takes samples as fast as it plays them. Level changes are faded over a block."""
        phase = 0.0
        amplitude = 0.0
        try:
            while self.open:
                step = 2 * np.pi * self.hertz * self.faster / RATE
                wanted = self.volts * self.scale if self.on else 0.0
                angle = phase + step * np.arange(BLOCK)
                rise = np.linspace(amplitude, wanted, BLOCK, endpoint=False)
                block = rise * np.sin(angle)
                self.player.stdin.write(np.repeat(block, 2).astype("<f4").tobytes())
                self.player.stdin.flush()
                phase = (phase + step * BLOCK) % (2 * np.pi)
                amplitude = wanted
        except BrokenPipeError:
            pass  # the server has ended

    def serve(self):
        while self.open:
            try:
                client, _ = self.listening.accept()
            except OSError:
                return
            with client:
                client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                for line in client.makefile("rb"):
                    answer = self.answer(line.decode("ascii").strip())
                    if answer is not None:
                        client.sendall(answer.encode("ascii") + b"\n")

    def answer(self, said):
        if said == "*IDN?":
            return self.IDENTITY
        if said == "OUTP?":
            return str(int(self.on))
        if said.startswith("SYST:ERR"):
            return '0,"No error"'
        told = re.fullmatch(r"(FREQ|VOLT) (\S+)", said)
        if told and told[1] == "FREQ":
            self.hertz = float(told[2])
        elif told:
            self.volts = float(told[2])
        elif said == "OUTP ON":
            self.on = True
            self.played.append((self.hertz, self.volts))
        elif said == "OUTP OFF":
            self.on = False
        return None

"""PulseAudio with a null sink and its monitor, started for a test with a socket and a state folder of
its own, and ended with it.
"""

import os
import signal
import subprocess
import time

RATE = 48000

ALSA = """
pcm.bench_out { type pulse device bench }
pcm.bench_in { type pulse device bench.monitor }
pcm.bench_card {
    type asym
    playback.pcm { type pulse device amplifier }
    capture.pcm { type pulse device bench.monitor }
}
pcm.bench_loop {
    type asym
    playback.pcm { type pulse device bench }
    capture.pcm { type pulse device bench.monitor }
}
pcm.bench_slow {
    type asym
    playback.pcm { type pulse device slow }
    capture.pcm { type pulse device slow.monitor }
}
ctl.bench_loop { type pulse sink bench source bench.monitor }
"""


class AudioServer:
    """The server, from its start to its end."""

    def __init__(self, folder):
        self.folder = folder
        self.socket = os.path.join(folder, "native")
        self.log = os.path.join(folder, "server.log")
        configuration = os.path.join(folder, "asound.conf")
        with open(configuration, "w") as file:
            file.write(ALSA)
        self.environment = dict(
            os.environ,
            HOME=folder,
            XDG_RUNTIME_DIR=folder,
            XDG_CONFIG_HOME=folder,
            PULSE_RUNTIME_PATH=folder,
            PULSE_STATE_PATH=folder,
            PULSE_SERVER=f"unix:{self.socket}",
            ALSA_CONFIG_PATH=f"/usr/share/alsa/alsa.conf:{configuration}",
        )
        self.environment.pop("DBUS_SESSION_BUS_ADDRESS", None)
        self.server = None

    def __enter__(self):
        command = [
            "pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
            "--disable-shm=yes", "--high-priority=no", "--realtime=no",
            f"--load=module-native-protocol-unix socket={self.socket} auth-anonymous=1",
            f"--load=module-null-sink sink_name=bench rate={RATE} format=s32le channels=2",
        ]  # fmt: skip
        with open(self.log, "w") as log:
            self.server = subprocess.Popen(
                command, env=self.environment, stdout=log, stderr=log, start_new_session=True
            )
        try:
            self.wait_until_it_answers()
        except BaseException:
            self.__exit__()
            raise
        return self

    def wait_until_it_answers(self):
        until = time.monotonic() + 30
        while time.monotonic() < until:
            if self.server.poll() is not None:
                break
            done = subprocess.run(
                ["pactl", "list", "short", "sources"],
                env=self.environment, capture_output=True, text=True,
            )  # fmt: skip
            if done.returncode == 0 and "bench.monitor" in done.stdout:
                return
            time.sleep(0.1)
        with open(self.log) as log:
            raise RuntimeError("the audio server does not answer:\n" + log.read())

    def __exit__(self, *_):
        if self.server.poll() is None:
            self.server.send_signal(signal.SIGTERM)
            try:
                self.server.wait(10)
            except subprocess.TimeoutExpired:
                self.server.kill()
                self.server.wait()

    def pactl(self, *words):
        """What a person could do to the server."""
        done = subprocess.run(["pactl", *words], env=self.environment, capture_output=True, text=True)
        if done.returncode != 0:
            raise RuntimeError(f"pactl {' '.join(words)}: {done.stderr}")
        return done.stdout.strip()

    def play(self, path):
        return subprocess.Popen(["aplay", "-q", "-D", "bench_out", path], env=self.environment)

    def record(self, path, seconds):
        subprocess.run(
            ["arecord", "-q", "-D", "bench_in", "-t", "wav", "-f", "S32_LE", "-r", str(RATE),
             "-c", "2", "-d", str(seconds), path],
            env=self.environment, check=True, timeout=60,
        )  # fmt: skip

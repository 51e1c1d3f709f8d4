"""Forty stereo captures of every kind of signal: 24 bits, 48 and 192 kHz, 0.2 to 4 s.

    captures_of_a_verification.py FOLDER        writes them and prints which there are
    captures_of_a_verification.py FILE hour     writes an hour of a tone
"""

import json
import os
import struct
import sys

import numpy as np

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "outside"))
import wave_file  # noqa: E402

PPM = 37e-6
# Left and right on even frequencies that differ: whole bins of the played second.
LEFT = [14, 30, 62, 130, 238, 420, 706, 994, 1538, 2466, 4076, 6738, 9986, 14014, 17938]
RIGHT = [24, 40, 88, 184, 328, 568, 840, 1032, 1912, 3608, 5864, 9992, 12392, 15784, 20296]


def noise(count, generator):
    return 1e-5 * generator.standard_normal((count, 2))


def bent(x):
    """A unit with some distortion of second and third order, and hum is added by the caller."""
    return x + 1e-3 * x**2 + 5e-4 * x**3


def times(seconds, rate):
    return np.arange(round(seconds * rate)) / rate


def hum(t):
    return 1e-5 * np.sin(2 * np.pi * 50.01 * t)[:, None]


def swept(t, seconds):
    """20 Hz to 20 kHz in `seconds`, with a pilot before and after."""
    low, high = 20.0, 20000.0
    growth = round(low * seconds / np.log(high / low)) / low
    length = growth * np.log(high / low)
    start = 0.5
    since = np.clip(t - start, 0, length)
    inside = (t >= start) & (t <= start + length)
    up = np.clip((t - start) / (0.3 * growth), 0, 1)
    down = np.clip((start + length - t) / (0.03 * growth), 0, 1)
    envelope = inside * np.sin(np.pi / 2 * up) ** 2 * np.sin(np.pi / 2 * down) ** 2
    out = 0.3 * envelope * np.sin(2 * np.pi * low * growth * np.exp(since / growth))
    for begin in (0.05, start + length + 0.5):
        up = np.clip((t - begin) / 0.02, 0, 1)
        down = np.clip((begin + 0.3 - t) / 0.02, 0, 1)
        out = out + 0.3 * up * down * np.sin(2 * np.pi * 1000 * t)
    return out, start + length + 0.9


def of_tones(t, tones, seed):
    phases = np.random.default_rng(seed).uniform(0, 2 * np.pi, len(tones))
    return 0.02 * sum(np.cos(2 * np.pi * f * t + p) for f, p in zip(tones, phases))


def make(folder):
    """Writes them; a list of (signal as analyze takes it, paths)."""
    generator = np.random.default_rng(20)
    kinds = []

    def write(name, samples, rate):
        path = os.path.join(folder, name)
        wave_file.write(path, samples, rate)
        return path

    def captured(wave, t):
        return bent(np.column_stack([wave, 0.8 * wave])) + hum(t) + noise(len(t), generator)

    paths = []
    for rate in (48000, 192000):
        for seconds, frequency in ((0.2, 5997), (0.5, 997), (0.5, 9997), (1.0, 997), (2.0, 203), (4.0, 20.3)):
            t = times(seconds, rate)
            wave = 0.5 * np.sin(2 * np.pi * frequency * (1 + PPM) * t + 0.4)
            paths.append(write(f"tone-{rate}-{seconds}-{frequency}.wav", captured(wave, t), rate))
    kinds.append(("tone", paths))

    paths = []
    for rate in (48000, 192000):
        for seconds in (0.5, 1.0, 2.0, 4.0):
            t = times(seconds, rate)
            paths.append(write(f"silence-{rate}-{seconds}.wav", hum(t) + noise(len(t), generator), rate))
    kinds.append(("silence", paths))

    paths = []
    for rate in (48000, 192000):
        for seconds in (0.25, 0.5, 1.0, 2.0):
            t = times(seconds, rate)
            low, high = (60, 7000) if seconds >= 0.5 else (19000, 20000)
            wave = 0.4 * np.sin(2 * np.pi * low * (1 + PPM) * t)
            wave += 0.1 * np.sin(2 * np.pi * high * (1 + PPM) * t)
            paths.append(write(f"two-tone-{rate}-{seconds}.wav", captured(wave, t), rate))
    kinds.append(("two-tone", paths))

    for rate in (48000, 192000):
        _, whole = swept(times(0.1, rate), 1.5)
        stimulus = write(f"sweep-{rate}.wav", np.column_stack([swept(times(whole, rate), 1.5)[0]] * 2), rate)
        paths = []
        for number in range(3):
            t = times(whole + 0.2, rate)
            wave, _ = swept((t - 0.05 - 0.01 * number) * (1 + PPM), 1.5)
            paths.append(write(f"swept-{rate}-{number}.wav", captured(wave, t), rate))
        kinds.append((f"sweep:{stimulus}", paths))

    for rate in (48000, 192000):
        t = times(1.0, rate)
        played = np.column_stack([of_tones(t, LEFT, 1), of_tones(t, RIGHT, 2)])
        stimulus = write(f"multitone-{rate}.wav", played, rate)
        paths = []
        for number in range(3):
            t = times(0.55 + 0.1 * number, rate)
            at = (t + 0.2) * (1 + PPM)
            left, right = of_tones(at, LEFT, 1), of_tones(at, RIGHT, 2)
            wave = np.column_stack([left + 1e-3 * right, right + 1e-3 * left])
            paths.append(write(f"tones-{rate}-{number}.wav",
                               bent(wave) + hum(t) + noise(len(t), generator), rate))  # fmt: skip
        kinds.append((f"multitone:{stimulus}", paths))
    return kinds


def write_hour(path, seconds=3600, rate=48000):
    """A tone of 997 Hz for an hour, block by block."""
    size = seconds * rate * 6
    generator = np.random.default_rng(4)
    grain = 1e-5 * generator.standard_normal((rate, 2))
    t = np.arange(rate) / rate
    with open(path, "wb") as file:
        file.write(struct.pack("<4sI4s4sIHHIIHH4sI", b"RIFF", 36 + size, b"WAVE", b"fmt ", 16, 1, 2,
                               rate, rate * 6, 6, 24, b"data", size))  # fmt: skip
        for second in range(seconds):
            wave = 0.5 * np.sin(2 * np.pi * 997 * (second + t))
            x = np.column_stack([wave, 0.8 * wave]) + np.roll(grain, 97 * second, axis=0)
            steps = np.rint(x * 2**23).astype("<i4")
            file.write(steps.view(np.uint8).reshape(-1, 4)[:, :3].tobytes())


if __name__ == "__main__":
    if len(sys.argv) > 2:
        write_hour(sys.argv[1])
        print("null")
    else:
        print(json.dumps(make(sys.argv[1])))

"""What a competent SciPy script makes of captures: the yardstick for processor time and memory.

    scipy_analyze.py SIGNAL FILE...     SIGNAL as `afterload analyze --signal` takes it
    scipy_analyze.py watch FILE         a WAV of a tone, read in blocks

Vectorised throughout, least squares instead of transforms where those are longer, one transform where
it serves several figures, no search in Python. It leaves out what afterload also does (uncertainties,
the soundness of a capture, the quasi-peak detector): the comparison is in SciPy's favour.
"""

import json
import struct
import sys

import numpy as np
import scipy.fft
import scipy.signal

AUDIO = (20.0, 20000.0)
BROADCAST = (22.4, 22400.0)


def shares(raw, channels):
    """24-bit samples as shares of full scale, frames by channels."""
    steps = np.zeros((len(raw) // 3, 4), np.uint8)
    steps[:, 1:] = np.frombuffer(raw, np.uint8).reshape(-1, 3)
    return steps.view("<i4").reshape(-1, channels) * 2.0**-31


def read(path):
    """A 24-bit WAV with the plain head of 44 bytes."""
    with open(path, "rb") as file:
        channels, rate = struct.unpack_from("<HI", file.read(44), 22)
        return shares(file.read(), channels), rate


def weights(f):
    """Amplitudes of the A and the ITU-R BS.468-4 weighting at the frequencies `f`."""
    f = np.maximum(f, 1e-3)
    square = f * f

    def a(square):
        return (12194.217**2 * square**2) / (
            (square + 20.598997**2) * (square + 12194.217**2)
            * np.sqrt((square + 107.65265**2) * (square + 737.86223**2)))  # fmt: skip

    def itu(f, square):
        real = ((-4.737338981378384e-24 * square + 2.043828333606125e-15) * square
                - 1.363894795463638e-7) * square + 1  # fmt: skip
        imaginary = f * ((1.306612257412824e-19 * square - 2.118150887516656e-11) * square
                         + 5.559488023498642e-4)  # fmt: skip
        return f / np.hypot(real, imaginary)

    return a(square) / a(1e6), 10 ** (12.2 / 20) * itu(f, square) / itu(6300.0, 6300.0**2)


def spectrum(x, rate):
    """Frequencies and mean square per bin, Hann window, of columns."""
    n = scipy.fft.next_fast_len(len(x), real=True)
    window = scipy.signal.windows.hann(len(x), sym=False)
    bins = scipy.fft.rfft(x * window[:, None], n, axis=0)
    power = (bins.real**2 + bins.imag**2) * (2 / (n * np.sum(window**2)))
    return np.arange(len(power)) * (rate / n), power


def band(f, power, edges, weight=None):
    inside = slice(*np.searchsorted(f, edges))
    part = power[inside]
    return np.sqrt(part.sum(axis=0) if weight is None else (weight[inside] ** 2) @ part)


def first_frequency(x, rate):
    """The largest line of each column, between bins by the parabola through a Hann window's."""
    part = x[: min(len(x), 16384)]
    n = len(part)
    bins = np.abs(scipy.fft.rfft(part * scipy.signal.windows.hann(n, sym=False)[:, None], axis=0))
    bins[:3] = 0
    at = bins.argmax(axis=0)
    at = np.clip(at, 1, len(bins) - 2)
    low, mid, high = (np.take_along_axis(bins, (at + k)[None], 0)[0] for k in (-1, 0, 1))
    left, right = low / mid, high / mid
    off = np.where(right > left, (2 * right - 1) / (1 + right), (1 - 2 * left) / (1 + left))
    return (at + off) * rate / n


def powers(frequency, count, t):
    """cos and sin of the first `count` multiples as columns, by products of the first."""
    turn = np.exp(2j * np.pi * frequency * t)
    out = np.empty((len(t), 2 * count))
    current = np.ones_like(turn)
    for order in range(count):
        current = current * turn
        out[:, 2 * order], out[:, 2 * order + 1] = current.real, current.imag
    return out


def least_squares(basis, x):
    return np.linalg.solve(basis.T @ basis, basis.T @ x)


def fitted_tone(x, rate, frequency, count):
    """Frequency, amplitudes of `count` multiples and what is left, by linearised least squares."""
    t = (np.arange(len(x)) - (len(x) - 1) / 2) / rate
    for _ in range(2):
        basis = powers(frequency, 1, t)
        slope = np.column_stack([basis, np.ones_like(t), t * basis[:, 1], t * basis[:, 0]])
        a = least_squares(slope, x)
        # d/df of a0 cos + a1 sin is 2 pi t (a1 cos - a0 sin): one unknown left in two columns.
        frequency += (a[4] * a[1] - a[3] * a[0]) / (a[0] ** 2 + a[1] ** 2) / (2 * np.pi)
    basis = np.column_stack([powers(frequency, count, t), np.ones_like(t)])
    a = least_squares(basis, x)
    return frequency, np.hypot(a[:-1:2], a[1:-1:2]), a[-1], x - basis @ a


def tone(x, rate, _):
    out = []
    frequencies = first_frequency(x, rate)
    for column, frequency in zip(x.T, frequencies):
        count = max(1, min(10, int(0.45 * rate / frequency)))
        frequency, lines, dc, rest = fitted_tone(column, rate, frequency, count)
        f, power = spectrum(rest[:, None], rate)
        a_weight, _ = weights(f)
        top = min(20000.0, 0.45 * rate)
        noise = band(f, power, (20.0, top))[0]
        harmonics = np.sqrt(np.sum(lines[1:] ** 2))
        out.append({
            "frequency": frequency, "volts": lines[0] / np.sqrt(2), "dc": dc,
            "harmonics": (lines[1:] / lines[0]).tolist(), "thd": harmonics / lines[0],
            "thd_plus_noise": np.hypot(harmonics / np.sqrt(2), noise) / (lines[0] / np.sqrt(2)),
            "noise_a": band(f, power, (20.0, top), a_weight)[0],
            "hum": [float(band(f, power, (k * 50 - 2, k * 50 + 2))[0]) for k in range(1, 11)],
        })  # fmt: skip
    left, right = out[0], out[-1]
    return {"channels": out, "balance": left["volts"] / right["volts"]}


def silence(x, rate, _):
    f, power = spectrum(x - x.mean(axis=0), rate)
    a_weight, itu_weight = weights(f)
    edges = np.searchsorted(f, np.geomspace(20, min(20000, 0.45 * rate), 52))
    sums = np.add.reduceat(power, edges[:-1], axis=0)
    return {
        "audio": band(f, power, AUDIO).tolist(), "broadcast": band(f, power, BROADCAST).tolist(),
        "a": band(f, power, AUDIO, a_weight).tolist(),
        "itu": band(f, power, BROADCAST, itu_weight).tolist(),
        "density": np.sqrt(sums / np.diff(f[edges])[:, None]).tolist(),
        "hum": [band(f, power, (k * 50 - 2, k * 50 + 2)).tolist() for k in range(1, 21)],
        "dc": x.mean(axis=0).tolist(),
    }  # fmt: skip


def two_tone(x, rate, _):
    out = []
    for column in x.T:
        n = min(len(column), 65536)
        window = scipy.signal.windows.blackmanharris(n, sym=False)
        bins = np.abs(scipy.fft.rfft(column[:n] * window))
        bins[:4] = 0
        first = bins.argmax()
        bins[max(0, first - 6) : first + 7] = 0
        pair = np.sort([first, bins.argmax()]) * rate / n
        t = (np.arange(len(column)) - (len(column) - 1) / 2) / rate
        for _ in range(3):
            basis = np.column_stack([powers(f, 1, t) for f in pair])
            slope = np.column_stack([basis, np.ones_like(t), t[:, None] * basis])
            a = least_squares(slope, column)
            for k in range(2):
                c, s = a[2 * k], a[2 * k + 1]
                pair[k] += (a[5 + 2 * k] * s - a[6 + 2 * k] * c) / (c * c + s * s) / (2 * np.pi)
        orders = [(m, n) for n in range(6) for m in range(-5, 6)
                  if 0 < abs(m) + n < 6 and (n > 0 or m > 0)]  # fmt: skip
        orders = [o for o in orders if 20 < abs(o[0] * pair[0] + o[1] * pair[1]) < 0.49 * rate]
        turns = [np.exp(2j * np.pi * f * t) for f in pair]
        ones = np.ones_like(t)
        first = {m: turns[0] ** m for m in range(-5, 6)}
        second = {n: turns[1] ** n for n in range(6)}
        basis = np.empty((len(t), 2 * len(orders) + 1))
        for column_at, (m, n) in enumerate(orders):
            product = first[m] * second[n]
            basis[:, 2 * column_at], basis[:, 2 * column_at + 1] = product.real, product.imag
        basis[:, -1] = ones
        a = least_squares(basis, column)
        lines = np.hypot(a[:-1:2], a[1:-1:2])
        by = dict(zip(orders, lines))
        carrier = by[(0, 1)]
        side = [by.get((m, 1), 0.0) / carrier for m in (1, -1, 2, -2)]
        rest = column - basis @ a
        f, power = spectrum(rest[:, None], rate)
        out.append({"pair": pair.tolist(), "modulation": float(np.sqrt(np.sum(np.square(side)))),
                    "lines": lines.tolist(), "noise": float(band(f, power, AUDIO)[0])})  # fmt: skip
    return {"channels": out}


def sweep(x, rate, stimulus):
    """Transfer function by division of transforms; harmonic responses from the parts of the impulse
    response before the linear one."""
    played, _ = read(stimulus)
    played = played[:, :1]
    n = scipy.fft.next_fast_len(len(x) + len(played), real=True)
    reference = scipy.fft.rfft(played, n, axis=0)
    power = np.abs(reference) ** 2
    divided = scipy.fft.rfft(x, n, axis=0) * np.conj(reference) / (power + 1e-9 * power.max())
    impulse = scipy.fft.irfft(divided, n, axis=0)
    peak = np.abs(impulse).argmax(axis=0)
    out = []
    for channel, at in enumerate(peak):
        turned = np.roll(impulse[:, channel], -at)
        size = 1 << int(np.log2(min(n // 4, rate // 2)))
        responses = []
        growth = 2.0 / np.log(1000)
        for order in range(1, 6):
            centre = -round(growth * np.log(order) * rate)
            part = np.take(turned, np.arange(centre - size // 8, centre + size - size // 8), mode="wrap")
            responses.append(scipy.fft.rfft(part * scipy.signal.windows.tukey(size, 0.1)))
        f = scipy.fft.rfftfreq(size, 1 / rate)
        grid = np.geomspace(10, 0.45 * rate, 200)
        magnitude = np.interp(grid, f, np.abs(responses[0]))
        phase = np.interp(grid, f, np.unwrap(np.angle(responses[0])))
        harmonic = [np.interp(grid, f, np.abs(r)) for r in responses[1:]]
        out.append({"db": (20 * np.log10(magnitude)).tolist(), "phase": phase.tolist(),
                    "delay": np.gradient(phase, grid).tolist(),
                    "thd": (np.sqrt(np.sum(np.square(harmonic), axis=0)) / magnitude).tolist()})  # fmt: skip
    return {"channels": out}


def multitone(x, rate, stimulus):
    """Amplitudes of both channels' tones in each channel, one clock for all."""
    played, _ = read(stimulus)
    n = len(played)
    window = scipy.signal.windows.blackmanharris(n, sym=False)
    bins = np.abs(scipy.fft.rfft(played * window[:, None], axis=0))
    tones = []
    for column in bins.T:
        at, _ = scipy.signal.find_peaks(column, height=column.max() / 4, distance=4)
        tones.append(at * rate / n)
    f = np.concatenate(tones)
    t = (np.arange(len(x)) - (len(x) - 1) / 2) / rate
    clock = 1.0
    for _ in range(2):
        turns = np.exp(2j * np.pi * clock * np.outer(t, f))
        basis = np.column_stack([turns.real, turns.imag, np.ones_like(t)])
        a = least_squares(basis, x)
        c = a[: len(f)] - 1j * a[len(f) : 2 * len(f)]
        rest = x - basis @ a
        derivative = (turns @ (c * (2j * np.pi * f)[:, None])).real * t[:, None]
        clock += float(np.sum(rest * derivative) / np.sum(derivative**2))
    own = c[: len(tones[0]), 0], c[len(tones[0]) :, -1]
    spectrum_f, power = spectrum(rest, rate)
    return {"clock": clock, "left": np.abs(own[0]).tolist(), "right": np.abs(own[1]).tolist(),
            "leak": np.abs(c).tolist(), "rest": band(spectrum_f, power, AUDIO).tolist()}  # fmt: skip


def watch(path):
    """Level, DC, hum and distortion of every 0.1 s of a tone, and steps of the level of every
    5 ms, of a file read in blocks of 10 s."""
    with open(path, "rb") as file:
        head = file.read(44)
        channels, rate = struct.unpack_from("<HI", head, 22)
        width = 3 * channels
        turn, events, done = None, 0, 0
        while True:
            raw = file.read(10 * rate * width)
            frames = len(raw) // width // (rate // 10) * (rate // 10)
            if frames == 0:
                break
            x = shares(raw[: frames * width], channels).astype(np.float32)
            if turn is None:
                frequency = first_frequency(x, rate)[0]
                turn = np.exp(-2j * np.pi * frequency * np.arange(10 * rate) / rate).astype(np.complex64)
            mixed = x * turn[: len(x), None]
            blocks = mixed.reshape(-1, rate // 200, channels).mean(axis=1)
            level = np.abs(blocks)
            tenths = x.reshape(-1, rate // 10, channels)
            dc, power = tenths.mean(axis=1), np.square(tenths).mean(axis=1)
            own = 2 * np.square(np.abs(mixed.reshape(-1, rate // 10, channels).mean(axis=1)))
            distortion = np.sqrt(np.maximum(power - own - dc**2, 0))
            typical = np.median(level, axis=0)
            events += int(np.sum(np.abs(level / typical - 1) > 0.05))
            events += int(np.sum(distortion > 2 * np.median(distortion)))
            done += frames
    return {"seconds": done / rate, "events": events}


def main():
    kind, *files = sys.argv[1:]
    if kind == "watch":
        print(json.dumps(watch(files[0])))
        return
    name, _, stimulus = kind.partition(":")
    figures = {"tone": tone, "silence": silence, "two-tone": two_tone, "sweep": sweep,
               "multitone": multitone}[name]  # fmt: skip
    for path in files:
        x, rate = read(path)
        print(json.dumps(figures(x, rate, stimulus), default=float))


if __name__ == "__main__":
    main()

"""Writes WAV files from arrays, byte by byte, without the library that afterload reads them with.

`samples` is frames by channels (or frames alone) in shares of full scale. Integer samples are
rounded to the nearest of 2^(bits-1) steps a side; a sample past the ends is an error here, never
clipped in silence.
"""

import struct

import numpy as np


def write(path, samples, rate, bits=24, floating=False):
    samples = np.asarray(samples, dtype=float)
    if samples.ndim == 1:
        samples = samples[:, np.newaxis]
    channels = samples.shape[1]
    if floating:
        data = samples.astype({32: "<f4", 64: "<f8"}[bits]).tobytes()
    else:
        steps = np.rint(samples * 2.0 ** (bits - 1)).astype(np.int64)
        if steps.size and (steps.max() >= 2 ** (bits - 1) or steps.min() < -(2 ** (bits - 1))):
            raise ValueError(f"{path}: samples past full scale")
        data = steps.astype("<i8").tobytes()
        data = np.frombuffer(data, dtype=np.uint8).reshape(-1, 8)[:, : bits // 8].tobytes()
    block = channels * bits // 8
    form = struct.pack(
        "<4sIHHIIHH", b"fmt ", 16, 3 if floating else 1, channels, rate, rate * block, block, bits
    )
    body = b"WAVE" + form + struct.pack("<4sI", b"data", len(data)) + data
    with open(path, "wb") as file:
        file.write(struct.pack("<4sI", b"RIFF", len(body)) + body)


def read(path):
    """Samples (frames by channels, shares of full scale) and rate of an integer PCM WAV file."""
    with open(path, "rb") as file:
        content = file.read()
    if content[:4] != b"RIFF" or content[8:12] != b"WAVE":
        raise ValueError(f"{path}: not a WAV file")
    at, form, data = 12, None, None
    while at + 8 <= len(content):
        name, size = struct.unpack_from("<4sI", content, at)
        if name == b"fmt ":
            form = struct.unpack_from("<HHIIHH", content, at + 8)
        elif name == b"data":
            data = content[at + 8 : at + 8 + size]
        at += 8 + size + size % 2
    _, channels, rate, _, _, bits = form
    width = bits // 8
    frames = len(data) // (width * channels)
    raw = np.frombuffer(data[: frames * width * channels], dtype=np.uint8).reshape(-1, width)
    padded = np.zeros((raw.shape[0], 8), dtype=np.uint8)
    padded[:, 8 - width :] = raw
    steps = padded.view("<i8")[:, 0] >> (64 - bits)
    return steps.reshape(frames, channels) / 2.0 ** (bits - 1), rate

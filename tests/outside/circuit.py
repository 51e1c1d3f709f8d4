"""The amplifier of fixtures/ngspice/class-ab.cir as ngspice sees it: its waveform, and ngspice's own
Fourier analysis of that same waveform.

The time step is a tenth of a sample of 192 kHz and fixed, so nothing is interpolated between points.
A starved output stage makes short spikes at the crossing, with harmonics far above 96 kHz: as in any
converter a low-pass stands before the samples are taken, here a linear-phase one, flat to within
0.0001 dB where harmonics are counted, and 120 dB down where they would fold back onto them.
"""

import os
import re
import subprocess
import tempfile

import numpy as np
import scipy.signal

NETLIST = os.path.join(
    os.path.dirname(__file__), "..", "..", "fixtures", "ngspice", "class-ab.cir"
)
RATE = 192000
POINTS_A_SAMPLE = 10
TONE_HZ = 1000
LOAD_OHM = 8.0
DIVIDER = 30.0  # 29 kohm over 1 kohm, in the netlist
SETTLING_S = 0.02
HIGHEST_ORDER = 20
EDGE_S = 0.001  # simulated at both ends and dropped: what the low-pass reaches over


def ngspice(netlist, work):
    """Runs a netlist; returns what it printed."""
    path = os.path.join(work, "run.cir")
    with open(path, "w") as file:
        file.write(netlist)
    done = subprocess.run(
        ["ngspice", "-b", path], cwd=work, capture_output=True, text=True, timeout=600
    )
    if "Fourier analysis" not in done.stdout:
        raise RuntimeError("ngspice made no Fourier analysis:\n" + done.stdout + done.stderr)
    return done.stdout


def harmonics(printed):
    """Peak volts by order, 0 (DC) up, from ngspice's table."""
    rows = re.findall(r"^ (\d+) +\S+ +(\S+) +\S+ +\S+ +\S+ *$", printed, re.MULTILINE)
    return np.array([float(magnitude) for _, magnitude in rows])


def points(path):
    """The real vectors of a binary ngspice raw file, points by vectors."""
    with open(path, "rb") as file:
        head, _, body = file.read().partition(b"Binary:\n")
    count = int(re.search(rb"No\. Points: *(\d+)", head).group(1))
    vectors = int(re.search(rb"No\. Variables: *(\d+)", head).group(1))
    return np.frombuffer(body, dtype="<f8", count=count * vectors).reshape(count, vectors)


def control(length_s, output):
    """Transient after settling, on the even grid, and its Fourier analysis."""
    step = f"{1e6 / (RATE * POINTS_A_SAMPLE):.16f}u"
    return f"""
.control
set numdgt=12
set filetype=binary
tran {step} {SETTLING_S + length_s} {SETTLING_S} {step}
linearize {output} v(sense)
set nfreqs={HIGHEST_ORDER + 1}
set fourgridsize=4096
set polydegree=3
fourier {TONE_HZ} {output}
write points.raw v(sense)
.endc
.end
"""


def low_pass():
    """Flat to 0.45 of RATE, down from 0.55 of it on: the mirror of what a tone figure counts."""
    fast = RATE * POINTS_A_SAMPLE
    taps, beta = scipy.signal.kaiserord(125.0, 0.1 * RATE / (fast / 2))
    return scipy.signal.firwin(taps | 1, 0.5 * RATE, window=("kaiser", beta), fs=fast)


def converted(volts):
    """Samples at RATE of points at POINTS_A_SAMPLE times that, in step with them."""
    taps = low_pass()
    middle = len(taps) // 2
    return np.convolve(volts, taps)[middle : middle + len(volts)][::POINTS_A_SAMPLE]


def simulate(spread, drive, length_s=0.05):
    """Volts at the divider sampled at RATE, and ngspice's harmonics of the output in volts peak."""
    with open(NETLIST) as file:
        netlist = file.read()
    netlist, written = re.subn(
        r"^\.param spread=.*$", f".param spread={spread} drive={drive}", netlist, flags=re.MULTILINE
    )
    if written != 1:
        raise RuntimeError("the netlist has lost its line of parameters")
    netlist = re.sub(r"^\.end\s*$", "", netlist, flags=re.MULTILINE)
    with tempfile.TemporaryDirectory() as work:
        printed = ngspice(netlist + control(length_s + 2 * EDGE_S, "v(out)"), work)
        table = points(os.path.join(work, "points.raw"))
    time, sense = table[:, 0], table[:, 1]
    uneven = np.abs(np.diff(time) * RATE * POINTS_A_SAMPLE - 1.0).max()
    if uneven > 1e-6:
        raise RuntimeError(f"points are not evenly spaced: {uneven:g} of a step")
    edge = round(EDGE_S * RATE)
    return converted(sense)[edge : edge + round(length_s * RATE)], harmonics(printed)


def distortion(table, highest_order):
    """THD re the fundamental, from ngspice's harmonics."""
    return float(np.sqrt(np.sum(table[2 : highest_order + 1] ** 2)) / table[1])

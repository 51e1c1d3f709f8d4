"""afterload beside a SciPy script on the same files, in turns in one run: processor time as ratios,
peak memory as ratios.

    beside_scipy.py FOLDER [ROUNDS]     FOLDER holds the programs afterload and read_and_transform

Nothing here passes or fails: it prints what was measured.
"""

import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile


HERE = os.path.dirname(os.path.abspath(__file__))
SCIPY = os.path.join(HERE, "scipy_analyze.py")
ENVIRONMENT = {
    **os.environ,
    "OPENBLAS_NUM_THREADS": "1",
    "PYTHONPATH": os.path.join(HERE, "..", "..", "ci", "python", "usr", "lib", "python3", "dist-packages"),
}


def measured(command):
    """Processor seconds, user and system, and peak memory in MB of one process."""
    with open(os.devnull, "w") as nowhere:
        child = subprocess.Popen(command, stdout=nowhere, env=ENVIRONMENT)
        _, status, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode not in (0, 2):  # 2: a capture that is not sound
        raise SystemExit(f"status {child.returncode}: {command}")
    if child.returncode == 2:
        print(f"not sound: {command[-1]}", file=sys.stderr)
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def made(*where):
    """The captures, made by a process of their own: a child's peak memory begins at its parent's, which
    is to stay small."""
    maker = os.path.join(HERE, "captures_of_a_verification.py")
    done = subprocess.run([sys.executable, "-B", maker, *where], env=ENVIRONMENT, check=True,
                          stdout=subprocess.PIPE)  # fmt: skip
    return json.loads(done.stdout)


def afterload(folder, signal, files):
    return measured([os.path.join(folder, "afterload"), "analyze", *files, "--signal", signal, "--json",
                     "--mains", "50Hz", "--full-scale", "1V"])  # fmt: skip


def scipy(signal, files):
    return measured([sys.executable, SCIPY, signal, *files])


def each_alone(run, kinds):
    used = [run(signal, [path]) for signal, paths in kinds for path in paths]
    return sum(seconds for seconds, _ in used), max(memory for _, memory in used)


def all_at_once(run, kinds):
    used = [run(signal, paths) for signal, paths in kinds]
    return sum(seconds for seconds, _ in used), max(memory for _, memory in used)


def in_turns(rounds, *runs):
    """Median of the seconds and of the memory of each."""
    found = [[run() for run in runs] for _ in range(rounds)]
    return [
        tuple(statistics.median(each[i][part] for each in found) for part in (0, 1))
        for i in range(len(runs))
    ]


def line(what, seconds, memory, ratio=""):
    print(f"{what:<44}{seconds:8.2f} s{memory:8.0f} MB   {ratio}")


def main():
    folder, rounds = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 3

    def here(signal, files):
        return afterload(folder, signal, files)

    with tempfile.TemporaryDirectory() as place:
        kinds = made(place)
        files = [path for _, paths in kinds for path in paths]
        print(f"{len(files)} stereo captures, 24 bits, 48 and 192 kHz, 0.2 to 4 s; processor time")
        ours, theirs = in_turns(
            rounds, lambda: each_alone(here, kinds), lambda: each_alone(scipy, kinds))
        line("SciPy, one process a capture", *theirs)
        line("afterload, one process a capture", *ours, f"{theirs[0] / ours[0]:.1f} times less")
        ours, theirs, start, floor = in_turns(
            rounds,
            lambda: all_at_once(here, kinds),
            lambda: all_at_once(scipy, kinds),
            lambda: all_at_once(scipy, [(signal, []) for signal, _ in kinds]),
            lambda: measured([os.path.join(folder, "read_and_transform"), *files]))
        work = theirs[0] - start[0]
        line("SciPy, all, without start and imports", work, theirs[1])
        line("afterload, all", *ours,
             f"{work / ours[0]:.1f} times less, {theirs[1] / ours[1]:.1f} times less memory")
        line("reading and one FFTW transform a channel", *floor, f"afterload is {ours[0] / floor[0]:.1f} times that")
        for signal, paths in kinds:
            ours, theirs, start, floor = in_turns(
                rounds, lambda: here(signal, paths), lambda: scipy(signal, paths),
                lambda: scipy(signal, []),
                lambda: measured([os.path.join(folder, "read_and_transform"), *paths]))
            name = signal.split(":")[0]
            line(f"  {len(paths)} {name}, {os.path.basename(paths[0])} on", *ours,
                 f"SciPy {(theirs[0] - start[0]) / ours[0]:.1f}, floor 1/{ours[0] / floor[0]:.1f}")

        hour = os.path.join(place, "hour.wav")
        made(hour, "hour")
        print("an hour of a tone, stereo, 24 bits, 48 kHz, watched")
        ours, theirs = in_turns(
            rounds,
            lambda: measured([os.path.join(folder, "afterload"), "analyze", hour, "--watch", "--signal",
                              "tone", "--mains", "50Hz", "--json"]),
            lambda: scipy("watch", [hour]))
        line("SciPy", *theirs, f"{3600 / theirs[0]:.0f} times real time")
        line("afterload", *ours, f"{3600 / ours[0]:.0f} times real time, "
             f"{theirs[1] / ours[1]:.1f} times less memory")


if __name__ == "__main__":
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    main()

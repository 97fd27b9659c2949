"""Named case "reading": 200,000 lines of common words, in one run, as ratios.

    python benchmarks/reading.py [--once] [--cpu]

The whole reader, from a file to its table of moves, against the least that a regular expression
per line could cost: one that only splits words and keeps seven numbers a line in a list, judges
nothing, knows no modes and no arcs. Then programs of twice the lines each, and programs in which
lines are left to the interpreter.
"""

from __future__ import annotations

import argparse
import math
import random
import re
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from toolpath.rs274.read import read_program_file
from toolpath.units import Unit

LINES = 200_000
HEAD = "G17 G21 G90 G94 G54\nM3 S16000\nG0 X0 Y0 Z5\n"


def walk(lines: int, odd: float = 0.0) -> str:
    """A walk of short lines and an arc in twenty; `odd` is the share of lines with an S word."""
    rng = random.Random(5)
    x, y, z, text = 10.0, 10.0, -1.0, [HEAD, "G1 Z-1 F900\n"]
    for number in range(lines):
        turn, step = rng.uniform(-math.pi, math.pi), rng.uniform(0.1, 2.0)
        i, j = round(step * math.cos(turn), 4), round(step * math.sin(turn), 4)
        if rng.random() < odd:
            text.append(f"S{rng.randrange(9000, 16000)}\n")
        elif number % 20 == 7:
            x, y = round(x + 2 * i, 4), round(y + 2 * j, 4)
            text.append(f"G2 X{x:.4f} Y{y:.4f} I{i:.4f} J{j:.4f}\n")
            continue
        elif number % 50 == 3:
            z = round(rng.uniform(-5, -1), 4)
            text.append(f"G1 X{x:.4f} Y{y:.4f} Z{z:.4f} F{rng.randrange(300, 1500)}\n")
        else:
            x, y = round(x + i, 4), round(y + j, 4)
            text.append(f"G1 X{x:.4f} Y{y:.4f}\n")
    return "".join([*text, "M2\n"])


_WORD = re.compile(r"([A-Z])([-+]?\d*\.?\d*)")


def by_pattern(path: Path) -> list[tuple[float, ...]]:
    """A regular expression per line: the code and x, y, z, i, j, f in force."""
    found, now = [], dict.fromkeys("GXYZIJF", 0.0)
    with path.open() as file:
        for line in file:
            for letter, number in _WORD.findall(line):
                now[letter] = float(number)
            found.append((now["G"], now["X"], now["Y"], now["Z"], now["I"], now["J"], now["F"]))
    return found


CLOCK = time.process_time if "--cpu" in sys.argv else time.perf_counter
"""With --cpu the time of all threads together, which says more on a machine that others use."""


def seconds(work: Callable[[], object], runs: int) -> float:
    times = []
    for _ in range(runs):
        start = CLOCK()
        work()
        times.append(CLOCK() - start)
    return statistics.median(times)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="small and once, for CI")
    parser.add_argument("--cpu", action="store_true", help="time of all threads together")
    once = parser.parse_args().once
    lines, runs = (2000, 1) if once else (LINES, 7)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "walk.nc"

        def read() -> object:
            return read_program_file(path, unit=Unit.MM)

        path.write_text(walk(lines))
        read()  # compiled or read from the disk
        ours, pattern = seconds(read, runs), seconds(lambda: by_pattern(path), runs)
        raw = seconds(path.read_bytes, runs)
        print(f"reading: {lines} lines, {path.stat().st_size / 1e6:.1f} MB, median of {runs}")
        print(f"  whole reader {1e3 * ours:8.1f} ms; reading the bytes alone {1e3 * raw:.1f} ms")
        print(f"  a regular expression per line {1e3 * pattern:8.1f} ms: {pattern / ours:.1f} x")
        print("  lines         ms   ns/line")
        for size in (lines // 4, lines // 2, lines, 2 * lines):
            path.write_text(walk(size))
            spent = seconds(read, runs)
            print(f"  {size:7d} {1e3 * spent:8.1f}  {1e9 * spent / size:8.0f}")
        print("  share of lines left to the interpreter, and their time beside none")
        for odd in (0.001, 0.01, 0.1):
            path.write_text(walk(lines, odd))
            print(f"  {odd:7.1%} {seconds(read, min(runs, 3)) / ours:8.1f} x")


if __name__ == "__main__":
    main()

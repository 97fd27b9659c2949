"""Named case "million": a program of 1,000,000 lines read and judged, beside the sum of its parts.

    python benchmarks/million.py [--once]

Invented: a blank of 400 x 280 mm with 30 pieces, cells of 0.2 mm, and a flat cutter on long
passes over it at many levels, with arcs and ramps between. In one process: the whole is what
`keepclear check --uncut` does; the parts are the same work piece by piece: reading the text,
sweeping the feed moves over both fields and over the coarse one of bites, searching the moves for
breaches and for the closest approach. Seconds and their ratio; then the peak of memory over what
the process had before, beside the file and the grids.
"""

from __future__ import annotations

import argparse
import math
import resource
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from toolpath.app.check import Run, check
from toolpath.app.load import load_job
from toolpath.check.bites import bites_of
from toolpath.check.chords import COARSE, Feeds, chords_of
from toolpath.check.closest import approach
from toolpath.check.frames import frame_of
from toolpath.check.gap import tool_of
from toolpath.check.grid import checked_obstacles
from toolpath.check.stock import Stock, sweep, writable
from toolpath.check.unknown import judged_moves
from toolpath.job.model import Job, Side
from toolpath.rs274.read import read_program_file

T = TypeVar("T")
LINES, SMALL = 1_000_000, 2_000
WIDTH, HEIGHT = 400.0, 280.0

HEAD = """name = "million"
units = "mm"
[blank]
outline = { rect = [0, 0, 400, 280] }
thickness = 40
material = "casting resin"
[machine]
travel = [600, 400, 90]
feed_max = 3000
spindle = [8000, 24000]
safe_height = 6
[check]
cell = 0.2
clearance = 1.0
[[cutter]]
name = "flat 6"
shape = "flat"
diameter = 6
flutes = 2
flute_length = 25
reach = 35
rpm = 14000
feed = 1400
plunge = 300
stepdown = 3
stepover = 0.4
"""
SOLIDS = (
    '{{ kind = "sphere", diameter = {0} }}',
    '{{ kind = "cylinder", diameter = {0}, height = 7 }}',
    '{{ kind = "box", size = [{0}, 9, 6] }}',
)


def job_text() -> str:
    """Thirty pebbles, cogs and bars of driftwood, six by five, that no pass comes near."""
    text = [HEAD]
    for number in range(30):
        solid = SOLIDS[number % len(SOLIDS)].format(8 + number % 5)
        x, y = 40 + 64 * (number % 6), 35 + 52 * (number // 6)
        text.append(
            f'[[piece]]\nname = "piece {number}"\nsolid = {solid}\n'
            f"at = [{x}, {y}]\nfrom_back = 5\ndrift = {{ side = 0.5, rise = 0.3 }}\n"
        )
    return "\n".join(text)


def program_text(lines: int) -> str:
    """Passes 2.4 mm apart in steps of 0.4 mm over the whole blank, level after level; every
    fortieth line is an arc, and each level begins with a ramp."""
    text = ["G17 G21 G90 G94 G54\nM3 S14000\nG0 X5 Y5 Z6\nG1 Z0 F300\nF1400\n"]
    across, up = int((WIDTH - 10) / 0.4), int((HEIGHT - 10) / 2.4)
    levels = max(1, math.ceil(lines / (across * up)))
    made = 5
    for level in range(levels):
        z = -12.0 * (level + 1) / levels
        for line in range(up):
            y = 5 + 2.4 * line
            order = range(across) if line % 2 == 0 else range(across - 1, -1, -1)
            text.append(_pass(order, y, z))
            made += across
            if made >= lines:
                return "".join(text) + "G0 Z6\nM2\n"
        text.append(f"G0 Z6\nG0 X5 Y5\nG1 Z{z:.3f} F300\nF1400\n")
    return "".join(text) + "G0 Z6\nM2\n"


def _pass(order: range, y: float, z: float) -> str:
    """One pass; the first step ramps down to its level, some are half circles over a step."""
    found = []
    for number, step in enumerate(order):
        x = 5 + 0.4 * step
        if number == 0:
            found.append(f"G1 X{x:.3f} Y{y:.3f} Z{z:.3f}\n")
        elif number % 40 == 20:
            found.append(f"G{2 if order.step > 0 else 3} X{x:.3f} I{0.2 * order.step:.3f} J0\n")
        else:
            found.append(f"G1 X{x:.3f} Y{y:.3f}\n")
    return "".join(found)


def timed(work: Callable[[], T]) -> tuple[T, float]:
    start = time.perf_counter()
    found = work()
    return found, time.perf_counter() - start


def peak() -> float:
    """Greatest memory of the process until now, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 * 1.048576


def parts(job: Job, path: Path) -> dict[str, float]:
    """Seconds of each part on its own."""
    program, reading = timed(lambda: read_program_file(path, unit=job.unit))
    table, cutter = judged_moves(program.moves), job.cutters["flat 6"]
    frame, tool = frame_of(job, Side.FRONT), tool_of(cutter, job.machine.nut)
    stock = Stock.fresh(job)
    feeds = Feeds.of(table, cutter, COARSE)
    chords, splitting = timed(lambda: chords_of(table, cutter, COARSE))
    face = writable(stock.faces[Side.FRONT])
    obstacles = checked_obstacles(job, Side.FRONT)
    found = {"reading": reading, "arcs to chords": splitting}
    found["sweeping"] = timed(lambda: sweep(face, stock.grid, chords, frame, job.machine.nut))[1]
    found["bites"] = timed(lambda: bites_of(stock, Side.FRONT, feeds, frame, job))[1]
    found["breaches"] = timed(lambda: obstacles.breaches(table, tool))[1]
    found["closest"] = timed(lambda: approach(table, tool, obstacles, frame))[1]
    return found


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="small and once, for CI")
    lines = SMALL if parser.parse_args().once else LINES
    with tempfile.TemporaryDirectory() as folder:
        job_path, path, small = (Path(folder) / name for name in ("job.toml", "a.nc", "small.nc"))
        job_path.write_text(job_text())
        path.write_text(program_text(lines))
        small.write_text(program_text(SMALL))
        run = Run(face="front", cutter="flat 6", program=path)
        # imports, and what is compiled or read from the disk
        check(job_path, Run(face="front", cutter="flat 6", program=small), uncut=True)
        before = peak()
        checked, whole = timed(lambda: check(job_path, run, uncut=True))
        over = peak() - before
        job = load_job(job_path)
        report(checked.report.verdict.name, whole, parts(job, path))
        memory(over, path.stat().st_size / 1e6, job)


def report(verdict: str, whole: float, spent: dict[str, float]) -> None:
    print(f"million: the whole {whole:.2f} s ({verdict.lower()}); the parts")
    for name, each in spent.items():
        print(f"  {name:16s} {each:8.2f} s")
    total = sum(spent.values())
    print(f"  {'together':16s} {total:8.2f} s: the whole takes {whole / total:.2f} times as long")


def memory(over: float, file: float, job: Job) -> None:
    grid = Stock.fresh(job).grid
    grids = 2 * grid.rows * grid.columns * 4 / 1e6
    print(f"  peak memory {over:.0f} MB more than before: {over / (file + grids):.1f} times")
    print(f"  the file ({file:.1f} MB) and the two fields of a face ({grids:.1f} MB)")


if __name__ == "__main__":
    main()

"""Named case "sweeping": a flat cutter of 30 cells along 200,000 short segments, as ratios.

    python benchmarks/sweeping.py [--once] [--cpu]

3500 x 5000 cells. A walk with a ramp in fifty segments, and parallel passes at three levels. Ours
(an upper bound of what is left of each closed cell) against numpy on the box of each segment, with
the exact distance to the segment, and against thick polylines of OpenCV, which know no ramps; with
the share of the cut cells that those get wrong by a hundredth or more. numpy runs a part of the
segments and is scaled. Then the same for four lengths of path and four sizes of cell.
"""

from __future__ import annotations

import argparse
import importlib.util
import itertools
import math
import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
from numba import get_num_threads
from numpy.typing import NDArray

from toolpath.field.grid import Grid
from toolpath.field.profile import Element, Profile
from toolpath.field.sweep import sweep_whole

FloatArray = NDArray[np.float64]
Field = NDArray[np.float32]

RADIUS = 30.0
"""Cells."""

FLAT = Profile(
    elements=(Element(part_name="flutes", r_low=RADIUS, z_low=0, r_high=RADIUS, z_high=90),)
)
HAS_OPENCV = importlib.util.find_spec("cv2") is not None


def walk(count: int, rows: int, columns: int) -> FloatArray:
    """(count + 1, 3) a smooth walk of 4.5 cells a step inside a box, a ramp in fifty steps."""
    rng = np.random.default_rng(8)
    heading = np.cumsum(rng.normal(0, 0.15, count + 1))
    path = np.cumsum(4.5 * np.column_stack([np.cos(heading), np.sin(heading)]), axis=0)
    inner = np.array([columns, rows]) - 80.0
    folded = np.abs(np.mod(path, 2 * inner) - inner) + 40.0  # mirrored at the edges
    steps = np.where(rng.random(count + 1) < 0.02, rng.uniform(-1, 1, count + 1), 0.0)
    height = -1.0 - np.abs(np.mod(np.cumsum(steps), 18) - 9)
    return np.column_stack([folded, height])


def passes(count: int, rows: int, columns: int) -> FloatArray:
    """Parallel passes 25 cells apart in steps of 4 cells, at three levels."""
    across, lines = (columns - 80) // 4, (rows - 80) // 25
    number = np.arange(count + 1)
    line, step = number // across, number % across
    step = np.where(line % 2, across - 1 - step, step)
    x, y = 40.0 + 4 * step, 40.0 + 25 * (line % lines)
    return np.column_stack([x, y, -1.0 - line // lines]).astype(np.float64)


def by_numpy(z: Field, path: FloatArray) -> None:
    """The exact capsule of each segment, at the middles of its box's cells."""
    for (ax, ay, az), (bx, by, bz) in itertools.pairwise(path):
        reach = RADIUS + 1
        left, right = max(0, int(min(ax, bx) - reach)), int(max(ax, bx) + reach)
        low, high = max(0, int(min(ay, by) - reach)), int(max(ay, by) + reach)
        part = z[low:high, left:right]
        y, x = np.ogrid[low : low + part.shape[0], left : left + part.shape[1]]
        px, py, dx, dy, dz = x + 0.5 - ax, y + 0.5 - ay, bx - ax, by - ay, bz - az
        square = dx * dx + dy * dy
        along = px * dx + py * dy
        off = px * px + py * py - along * along / square
        half = np.sqrt(np.maximum(RADIUS**2 - off, 0.0) / square)
        first, last = along / square - half, along / square + half
        lowest = np.clip(last, 0, 1) if dz < 0 else np.clip(first, 0, 1)
        hit = (off <= RADIUS**2) & (first <= 1) & (last >= 0)
        np.copyto(part, np.minimum(part, az + lowest * dz), where=hit, casting="same_kind")


def by_opencv(z: Field, path: FloatArray) -> None:
    """Stretches of one height as thick polylines, the deepest last; ramps at their higher end."""
    import cv2

    level = np.maximum(path[:-1, 2], path[1:, 2])
    breaks = np.flatnonzero(np.diff(level)) + 1
    stretches = np.split(np.arange(len(level)), breaks)
    points = np.round((path[:, :2] - 0.5) * 16).astype(np.int32)
    for stretch in sorted(stretches, key=lambda part: -level[part[0]]):
        line = points[stretch[0] : stretch[-1] + 2]
        cv2.polylines(z, [line], False, float(level[stretch[0]]), int(2 * RADIUS + 1), shift=4)


CLOCK = time.process_time if "--cpu" in sys.argv else time.perf_counter
"""With --cpu the time of all threads together, which says more on a machine that others use."""


def seconds(work: Callable[[], object], runs: int) -> float:
    times = []
    for _ in range(runs):
        start = CLOCK()
        work()
        times.append(CLOCK() - start)
    return statistics.median(times)


def ours(path: FloatArray, grid: Grid, runs: int) -> float:
    z = np.zeros(grid.shape, dtype=np.float32)
    sweep_whole(z, grid, path[:1], path[1:2], FLAT)  # compiled or read from the disk

    def work() -> None:
        z[:] = 0.0
        sweep_whole(z, grid, path[:-1], path[1:], FLAT)

    return seconds(work, runs)


def scaled(path: FloatArray, grid: Grid, sample: int) -> float:
    """Seconds of numpy for the whole path, from a part of it."""
    z = np.zeros(grid.shape, dtype=np.float32)
    part = path[: sample + 1]
    return seconds(lambda: by_numpy(z, part), 1) * (len(path) - 1) / sample


def wrong_share(path: FloatArray, grid: Grid, sample: int) -> float:
    """Share of the cut cells that thick polylines get wrong, beside numpy, for a part."""
    exact, thick = np.zeros(grid.shape, np.float32), np.zeros(grid.shape, np.float32)
    by_numpy(exact, path[: sample + 1])
    by_opencv(thick, path[: sample + 1])
    return float((np.abs(exact - thick) > 0.01).sum() / (exact < 0.0).sum())


def compared(path: FloatArray, grid: Grid, sample: int) -> str:
    """How ours lies beside numpy: never under it, and higher only in a rim of a cell's width."""
    exact, bound = np.zeros(grid.shape, np.float32), np.zeros(grid.shape, np.float32)
    part = path[: sample + 1]
    by_numpy(exact, part)
    sweep_whole(bound, grid, part[:-1], part[1:], FLAT)
    assert (bound >= exact - 1e-4).all()
    return f"{(bound > exact + 0.01).sum() / (exact < 0.0).sum():.1%}"


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="small and once, for CI")
    parser.add_argument("--cpu", action="store_true", help="time of all threads together")
    once = parser.parse_args().once
    small, whole = (300, 400, 500, 50, 1), (3500, 5000, 200_000, 2000, 3)
    rows, columns, count, sample, runs = small if once else whole
    grid = Grid(x0=0.0, y0=0.0, cell=1.0, rows=rows, columns=columns)
    print(f"sweeping: {count} segments, {get_num_threads()} threads, median of {runs}")
    for name, make in (("walk", walk), ("passes", passes)):
        path = make(count, rows, columns)
        mine, numpy = ours(path, grid, runs), scaled(path, grid, sample)
        line = f"  {name:7s} {mine:7.3f} s  numpy {numpy / mine:6.1f} x"
        if HAS_OPENCV:
            z = np.zeros(grid.shape, dtype=np.float32)
            thick = seconds(lambda p=path, f=z: by_opencv(f, p), runs)
            line += f"  OpenCV {thick / mine:5.2f} x, wrong {wrong_share(path, grid, sample):.1%}"
        print(f"{line}  (bound over the exact in {compared(path, grid, sample)})", flush=True)
    if not HAS_OPENCV:
        print("  OpenCV is not installed and was left out")
    print("  segments     s   us/segment")
    for part in (8, 4, 2, 1):
        path = walk(count // part, rows, columns)
        spent = ours(path, grid, 1)
        print(f"  {count // part:8d} {spent:7.3f} {1e6 * spent * part / count:8.2f}")
    print("  cells of the cutter    s   ns/cell of its capsules")
    path = walk(count // 8, rows, columns)
    for cell in (2.0, math.sqrt(2.0), 1.0, math.sqrt(0.5)):
        fine = Grid(x0=0, y0=0, cell=cell, rows=int(rows / cell), columns=int(columns / cell))
        spent = ours(path, fine, 1)
        cells = (count // 8) * (math.pi * RADIUS**2 + 4.5 * 2 * RADIUS) / cell**2
        print(f"  {math.pi * (RADIUS / cell) ** 2:9.0f} {spent:14.3f} {1e9 * spent / cells:8.3f}")


if __name__ == "__main__":
    main()

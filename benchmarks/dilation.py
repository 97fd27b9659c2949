"""Named case "dilation": the lowest clear tip over 3500 x 5000 cells, in one run, as ratios.

    python benchmarks/dilation.py [--once] [--cpu]

Ours against numpy on whole arrays, scipy and, where it is installed, OpenCV with the true disc;
and against copying the field. scipy is timed on a quarter of the rows and columns with a margin
that is counted, the others on the whole field, unless a line says otherwise. Every result is
compared with ours, cell by cell. Then the same for four sizes of the field and of the cutter.
"""

from __future__ import annotations

import argparse
import importlib.util
import math
import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
from numba import get_num_threads
from numpy.typing import NDArray
from scipy import ndimage

from toolpath.field.dilate import dilate, drop_table, lowest_clear
from toolpath.field.grid import NOTHING, Grid, HeightField
from toolpath.field.profile import Element, Profile

Field = NDArray[np.float32]
SIZE, SMALL = (3500, 5000), (140, 200)
CELL = 0.1
HAS_OPENCV = importlib.util.find_spec("cv2") is not None


def plate(shape: tuple[int, int], ground: float = 0.0) -> Field:
    """Forty domes and drums on flat ground (-inf: on nothing)."""
    rng = np.random.default_rng(3)
    z = np.full(shape, ground, dtype=np.float32)
    for number in range(40):
        y, x = rng.uniform((0, 0), shape)
        size, high = rng.uniform(0.01, 0.05) * shape[1], rng.uniform(2, 20)
        low, left = max(0, int(y - size)), max(0, int(x - size))
        part = z[low : int(y + size) + 1, left : int(x + size) + 1]
        rows, columns = np.ogrid[low : low + part.shape[0], left : left + part.shape[1]]
        away = np.hypot(rows - y, columns - x) / size
        dome = (
            high * np.sqrt(np.maximum(0, 1 - away**2)) if number % 2 else np.full_like(away, high)
        )
        np.maximum(part, np.where(away < 1, dome, ground), out=part, casting="same_kind")
    return z


def rough(shape: tuple[int, int]) -> Field:
    """The same with 0.02 mm of noise in every cell."""
    noise = np.random.default_rng(4).uniform(0, 0.02, shape)
    return (plate(shape) + noise).astype(np.float32)


def flat_table(radius: int) -> Field:
    return _table(radius, lambda r: np.zeros_like(r))


def ball_table(radius: int) -> Field:
    return _table(radius, lambda r: CELL * (radius - np.sqrt(np.maximum(radius**2 - r * r, 0.0))))


def vee_table(radius: int) -> Field:
    return _table(radius, lambda r: CELL * r)


def bull_table(radius: int) -> Field:
    corner = radius / 3.0
    out = radius - corner

    def height(r: NDArray[np.float64]) -> NDArray[np.float64]:
        inside = np.maximum(corner**2 - np.maximum(r - out, 0.0) ** 2, 0.0)
        return CELL * (corner - np.sqrt(inside))

    return _table(radius, height)


def _table(radius: int, height: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> Field:
    away = np.arange(-radius, radius + 1)
    r = np.hypot(away[:, None], away)
    return np.where(r <= radius, height(r), np.inf).astype(np.float32)


def numpy_loop(z: Field, drop: Field) -> Field:
    """One add and one maximum on whole arrays for each entry of the table."""
    up, across = drop.shape[0] // 2, drop.shape[1] // 2
    padded = np.pad(z, ((up, up), (across, across)), constant_values=NOTHING)
    out, work = np.full_like(z, NOTHING), np.empty_like(z)
    for i, j in zip(*np.nonzero(np.isfinite(drop)), strict=True):
        np.subtract(padded[i : i + z.shape[0], j : j + z.shape[1]], drop[i, j], out=work)
        np.maximum(out, work, out=out)
    return out


def numpy_chords(z: Field, drop: Field) -> Field:
    """A flat table on whole arrays: greatest of 1, 2, 4 ... columns, two look-ups a row."""
    up = drop.shape[0] // 2
    padded = np.pad(z, up, constant_values=NOTHING)
    out = np.full_like(z, NOTHING)
    chords = [np.flatnonzero(np.isfinite(line)) for line in drop]
    level, size = padded, 1
    while level.shape[1] >= z.shape[1]:
        for i, chord in enumerate(chords):
            if size <= len(chord) < 2 * size:
                for first in (chord[0], chord[-1] + 1 - size):
                    piece = level[i : i + z.shape[0], first : first + z.shape[1]]
                    np.maximum(out, piece, out=out)
        if 2 * size > max(map(len, chords)):
            break
        level, size = np.maximum(level[:, :-size], level[:, size:]), 2 * size
    return out


def by_scipy(z: Field, drop: Field) -> Field:
    if (drop[np.isfinite(drop)] == 0.0).all():
        disc = np.isfinite(drop)
        return ndimage.grey_dilation(z, footprint=disc, mode="constant", cval=-np.inf)
    return ndimage.grey_dilation(
        z,
        footprint=np.isfinite(drop),
        structure=np.where(np.isfinite(drop), -drop, 0.0),
        mode="constant",
        cval=-np.inf,
    )


def by_opencv(z: Field, drop: Field) -> Field:
    import cv2

    return cv2.dilate(z, np.isfinite(drop).astype(np.uint8), borderValue=-math.inf)


CLOCK = time.process_time if "--cpu" in sys.argv else time.perf_counter
"""With --cpu the time of all threads together, which says more on a machine that others use."""


def seconds(work: Callable[[], object], runs: int) -> float:
    times = []
    for _ in range(runs):
        start = CLOCK()
        work()
        times.append(CLOCK() - start)
    return statistics.median(times)


class Bench:
    """What the lines of one run share."""

    def __init__(self, once: bool) -> None:
        self.shape, self.runs = (SMALL, 1) if once else (SIZE, 5)
        self.copy = np.zeros(self.shape, dtype=np.float32)

    def ours(self, z: Field, drop: Field) -> float:
        dilate(z[:70, :70], drop)  # compiled or read from the disk
        return seconds(lambda: dilate(z, drop), self.runs)

    def beside(self, name: str, z: Field, drop: Field, other: Callable[..., Field]) -> float:
        """Seconds of another way on the whole field, after comparing it with ours."""
        part = z[: 3 * len(drop), : 4 * len(drop)]
        assert np.allclose(other(part, drop), dilate(part, drop), atol=1e-5), name
        return seconds(lambda: other(z, drop), min(self.runs, 3))

    def part(self, name: str, z: Field, drop: Field, other: Callable[..., Field], by: int) -> float:
        """The same, timed on 1 / by of the rows and columns and scaled by cells."""
        rows, columns = self.shape[0] // by, self.shape[1] // by
        piece = np.ascontiguousarray(z[:rows, :columns])
        start = CLOCK()
        found = other(piece, drop)
        spent = CLOCK() - start
        assert np.allclose(found, dilate(piece, drop), atol=1e-5), name
        return spent * z.size / piece.size


def report(title: str, ours: float, copy: float, others: dict[str, float]) -> None:
    ratios = "  ".join(f"{name} {spent / ours:6.1f}" for name, spent in others.items())
    print(f"  {title:24s} {1e3 * ours:8.1f} ms  {ours / copy:5.1f} x copy   {ratios}", flush=True)


def flat_lines(bench: Bench, copy: float, by: int) -> None:
    z = plate(bench.shape)
    for radius in (15, 30, 60):
        drop = flat_table(radius)
        ours = bench.ours(z, drop)
        others = {"numpy chords": bench.beside("chords", z, drop, numpy_chords)}
        if HAS_OPENCV:
            others["OpenCV"] = bench.beside("OpenCV", z, drop, by_opencv)
        others["scipy"] = bench.part("scipy", z, drop, by_scipy, by)
        report(f"flat, radius {radius}", ours, copy, others)


def shaped_lines(bench: Bench, copy: float, by: int) -> None:
    for ground, z in (("pieces", plate(bench.shape)), ("rough", rough(bench.shape))):
        for name, make in (("ball", ball_table), ("vee", vee_table), ("bull-nose", bull_table)):
            drop = make(30)
            ours = bench.ours(z, drop)
            others = {
                "numpy loop": bench.part("numpy", z, drop, numpy_loop, 2 * by),
                "scipy": bench.part("scipy", z, drop, by_scipy, 2 * by),
            }
            report(f"{name}, radius 30, {ground}", ours, copy, others)


def product_lines(bench: Bench, copy: float) -> None:
    """What the product asks for: closed cells, 1 mm clearance round the cutter, and its nut."""
    nut = Element(part_name="nut", r_low=11, z_low=30, r_high=11, z_high=50)
    flat = Element(part_name="flutes", r_low=3, z_low=0, r_high=3, z_high=30)
    profile = Profile(elements=(flat, nut))
    grid = Grid(x0=0, y0=0, cell=CELL, rows=bench.shape[0], columns=bench.shape[1])
    for ground, z in (("nothing", plate(bench.shape, -math.inf)), ("a plate", plate(bench.shape))):
        field = HeightField(grid=grid, z=z)
        for name, deepest in (("flutes", -5.0), ("nut too", -40.0)):
            spent = seconds(lambda f=field, d=deepest: lowest_clear(f, profile, 1.0, d), bench.runs)
            size = len(drop_table(profile, 1.0, CELL, float(z.max()) - deepest)) // 2
            report(f"pieces on {ground}, {name}, {size} cells", spent, copy, {})


def growth(bench: Bench) -> None:
    """Milliseconds for four sizes of field, each with twice the cells; radius 30."""
    print("  cells      flat   ns/cell    ball   ns/cell")
    for part in (8, 4, 2, 1):
        z = np.ascontiguousarray(rough(bench.shape)[: bench.shape[0] // part])
        flat, ball = bench.ours(z, flat_table(30)), bench.ours(z, ball_table(30))
        each = 1e9 / z.size
        one, two = (
            f"{1e3 * flat:6.1f}  {flat * each:7.2f}",
            f"{1e3 * ball:7.1f}  {ball * each:7.2f}",
        )
        print(f"  {z.size:9d} {one}  {two}")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="small and once, for CI")
    parser.add_argument("--cpu", action="store_true", help="time of all threads together")
    once = parser.parse_args().once
    bench, by = Bench(once), 1 if once else 4
    source = plate(bench.shape)
    copy = seconds(lambda: np.copyto(bench.copy, source), 3 * bench.runs)
    size = f"{bench.shape[0]} x {bench.shape[1]} cells, {get_num_threads()} threads"
    print(f"dilation: {size}, median of {bench.runs};")
    print(f"  a copy takes {1e3 * copy:.1f} ms; others as how many times our time they take")
    if not HAS_OPENCV:
        print("  OpenCV is not installed and was left out")
    flat_lines(bench, copy, by)
    shaped_lines(bench, copy, by)
    product_lines(bench, copy)
    growth(bench)


if __name__ == "__main__":
    main()

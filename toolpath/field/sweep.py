"""What a cutter leaves of a stock along straight moves, bounded from above and from below."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.field import kernels
from toolpath.field.grid import Grid
from toolpath.field.profile import Profile

FloatArray = NDArray[np.float64]
HeightArray = NDArray[np.float32]

_TINY = 1e-100
"""A step this small has no direction, mm or mm²: it is taken for none, over which to divide."""

_AT_ONCE = 65536
"""Segments that are handed to a kernel at once: what it needs for each stays small."""

_EVEN = 0.02
"""Moves of a flat cutter that fall by no more than this, mm, are swept as level ones, at the end
that errs as the field does: many chords of helices and ramps do, and level ones are far quicker."""

_LOWER, _UPPER = 2, 5
"""Columns of a segment: heights of its lower and its upper end."""

_STEPS = 4096
"""Entries of the table of a profile; a bound is off by what the profile rises in one step."""


def sweep_whole(
    z: HeightArray,
    grid: Grid,
    start: FloatArray,
    end: FloatArray,
    profile: Profile,
    *,
    deviation: float = 0.0,
) -> None:
    """Lowers z, in place, to an upper bound of what is left after straight moves of the tip.

    A cell is lowered only where some one place of a move covers all of it, to the profile at its
    farthest corner, and under level moves of a flat cutter wherever the move covers all of it: what
    is said to be gone is gone. Errs high, in a rim of a cell's width, and by `_EVEN` under moves of
    a flat cutter that are almost level.

    Parameters
    ----------
    z : (rows, columns) float32, C order, writable; upper bounds of the stock.
    grid : where its cells lie; same frame as the moves.
    start, end : (n, 3) tip positions, finite, mm.
    profile : what cuts, mostly ``profile.only("flutes")``.
    deviation : how far in plan the true path may lie from the segments (chords of arcs), mm.

    Raises ValueError for shapes, types or positions that do not fit.
    """
    first, last = _ends(z, grid, start, end)
    radius = profile.outer_radius - deviation
    if radius > 0.0:
        table = profile.height(np.linspace(0.0, radius, _STEPS + 1) + deviation)
        for part in _parts(len(first)):
            segments = _evened(upward(first[part], last[part]), table, _UPPER)
            kernels.sweep_whole(z, _place(grid), segments, table, _STEPS / radius, _scratch(z))


def sweep_touched(
    z: HeightArray,
    grid: Grid,
    start: FloatArray,
    end: FloatArray,
    profile: Profile,
    *,
    deviation: float = 0.0,
) -> None:
    """Lowers z, in place, to a lower bound of what is left anywhere in a cell after moves.

    Every cell that the cutter touches is lowered, to the profile at its nearest point. Errs low,
    by a cell's width and on a slope by what the move falls within the cutter's reach of the
    cell, or by `_EVEN`. Parameters and errors as for `sweep_whole`.
    """
    first, last = _ends(z, grid, start, end)
    radius = profile.outer_radius + deviation
    if profile.elements and radius > 0.0:
        radii = np.maximum(np.linspace(0.0, radius, _STEPS + 1) - deviation, 0.0)
        table = profile.height(np.minimum(radii, profile.outer_radius))
        for part in _parts(len(first)):
            segments = _evened(upward(first[part], last[part]), table, _LOWER)
            kernels.sweep_touched(z, _place(grid), segments, table, _STEPS / radius, _scratch(z))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Taken:
    """What each of n moves took: area in plan newly cut, mm², the part of it taken deeper than a
    limit at once, and the greatest depth taken at once, mm."""

    area: FloatArray
    deep: FloatArray
    depth: FloatArray


def bite(
    z: HeightArray,
    grid: Grid,
    start: FloatArray,
    end: FloatArray,
    profile: Profile,
    *,
    limit: float,
) -> Taken:
    """Lowers z, in place, to what is left at the middle of each cell, and says what moves took.

    No bound: right to a cell in plan. Parameters and errors as for `sweep_whole`.
    """
    first, last = _ends(z, grid, start, end)
    area, deep, depth = np.zeros((3, len(first)))
    radius = profile.outer_radius
    if radius > 0.0:
        table = profile.height(np.linspace(0.0, radius, _STEPS + 1))
        look = (_STEPS / radius, limit)
        for part in _parts(len(first)):
            segments = upward(first[part], last[part])
            count = np.zeros((kernels.BANDS, 2, len(segments)), dtype=np.int64)
            most = np.zeros((kernels.BANDS, len(segments)))
            kernels.bite(z, _place(grid), segments, table, look, _scratch(z), count, most)
            area[part], deep[part] = count.sum(axis=0) * grid.cell**2
            depth[part] = most.max(axis=0)
    return Taken(area=area, deep=deep, depth=depth)


def _parts(count: int) -> list[slice]:
    """All segments, so many at once."""
    return [slice(at, at + _AT_ONCE) for at in range(0, count, _AT_ONCE)]


def _place(grid: Grid) -> tuple[float, float, float]:
    return float(grid.x0), float(grid.y0), float(grid.cell)


def _scratch(z: HeightArray) -> FloatArray:
    """Rows of cells for each band."""
    return np.empty((kernels.BANDS, 6, max(z.shape[1], kernels.WIDE)))


def _ends(
    z: HeightArray, grid: Grid, start: FloatArray, end: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Starts and ends (n, 3), after the checks."""
    if z.dtype != np.float32 or z.shape != grid.shape:
        raise ValueError(f"heights {z.dtype} {z.shape} do not fit the grid {grid.shape}")
    if not (z.flags.c_contiguous and z.flags.writeable):
        raise ValueError("heights to be lowered must be writable and in C order")
    first, last = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    if first.ndim != 2 or first.shape[1] != 3 or first.shape != last.shape:
        raise ValueError(f"moves need (n, 3) starts and ends, not {first.shape}, {last.shape}")
    if not (np.isfinite(first).all() and np.isfinite(last).all()):
        raise ValueError("moves to be swept need finite positions")
    return first, last


def _evened(segments: FloatArray, table: FloatArray, end: int) -> FloatArray:
    """Segments (n, 10), those of a flat cutter that are almost level made so at one of their ends:
    the column of its height."""
    if table[0] == table[-1]:
        almost = segments[:, _UPPER] - segments[:, _LOWER] <= _EVEN
        height = segments[almost, end]
        segments[almost, _LOWER], segments[almost, _UPPER] = height, height
    return segments


def upward(start: FloatArray, end: FloatArray) -> FloatArray:
    """(n, 10) segments: lower and upper end, the square of the length in plan, and one over that,
    over the step in x and over that in y; 0 where that is nothing."""
    found = np.empty((len(start), 10))
    found[:, :3], found[:, 3:6] = start, end
    falls = end[:, 2] < start[:, 2]
    found[falls, :3], found[falls, 3:6] = end[falls], start[falls]
    x, y = found[:, 3] - found[:, 0], found[:, 4] - found[:, 1]
    for column, span in ((7, x * x + y * y), (8, x), (9, y)):
        some = np.abs(span) > _TINY
        found[:, column] = np.where(some, 1.0 / np.where(some, span, 1.0), 0.0)
        if column == 7:
            found[:, 6] = span * some
    return found

"""What the emitted moves leave over a whole face, as rasters: depth margin, uncut, thickness.

For drawing only: no verdict rests on it, and it is coarser than the check. One grid over the
blank (blank frame) serves both faces and all three, so that each face is swept once. Millimetres;
NaN where there is nothing to say.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.clear import deepest_tip, lowest_clear_tip
from toolpath.blank.field import NeedField, grid_for, piece_fields
from toolpath.blank.tooling import profile_of
from toolpath.check.report import Code, Verdict
from toolpath.field.dilate import dilate
from toolpath.field.grid import Grid
from toolpath.job.model import Cutter, Drill, Job, Relief, Side
from toolpath.show.areas import asked_for, blank_area, whole_area
from toolpath.show.floors import chords, cut_away
from toolpath.show.plan_data import cuts_of, sides_of
from toolpath.show.scene import CutView, Scene

FloatArray = NDArray[np.float64]
HeightArray = NDArray[np.float32]
Mask = NDArray[np.bool_]
Spot = tuple[float, float, float]
"""x, y (blank frame) and the value there."""

_CELLS = 640
"""Cells along the longer side of the blank."""
_LEAST_LEFT = 0.1
"""Height in mm over the floor asked for from which material counts as left."""
_GONE = 0.05
"""Thickness in mm up to which a place counts as cut through."""
_RIM = 0.8
"""How far inside an outline, in cells, a cell counts as inside: the raster's own error."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """What one part of a cut (one of its cutters) leaves inside its outline: mm², and where the
    largest of it lies (blank frame); None where nothing is left."""

    number: int
    name: str
    cutter: str
    area: float
    at: tuple[float, float] | None
    last: bool
    """Whether no further cutter of this cut follows."""
    reached: float | None = None
    """Of a relief after its last cutter: what of it that cutter could still get to, mm²."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceMap:
    """One face: `floor` is the height of the floor above it (page frame) as its programs leave
    it; `margin` the planned floor less the deepest clear floor, inf where nothing binds, NaN
    where nothing is cut; `left` the height of what remains over the floor asked for; `later` the
    same for what a smaller cutter then took. `worst` is the least margin, None where nothing
    binds."""

    side: Side
    floor: HeightArray
    margin: HeightArray
    worst: Spot | None
    left: HeightArray
    later: HeightArray
    parts: tuple[Left, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Maps:
    """All rasters of a job on one grid over its blank."""

    grid: Grid
    inside: Mask
    """Cells whose middle lies on the blank."""
    faces: dict[Side, FaceMap]
    thickness: HeightArray
    """Left of the blank at the end of the job, 0 where it is cut through."""
    thinnest: Spot | None


def maps_of(scene: Scene) -> Maps:
    """The rasters of a planned job, from the moves that were emitted."""
    job = _coarse(scene.job)
    whole = grid_for(job)
    window, grid = _over_blank(job, whole)
    inside = _inside(grid, blank_area(job.blank))
    faces = {side: _face(scene, side, whole, window, grid) for side in sides_of(scene)}
    thickness = _thickness(scene, faces, grid, inside)
    return Maps(
        grid=grid,
        inside=inside,
        faces=faces,
        thickness=thickness,
        thinnest=_thinnest(thickness, grid),
    )


def _coarse(job: Job) -> Job:
    """The job with cells as coarse as a picture needs them."""
    left, low, right, high = blank_area(job.blank).bounds
    cell = max(job.check.cell, max(right - left, high - low) / _CELLS)
    return replace(job, check=replace(job.check, cell=cell))


def _over_blank(job: Job, whole: Grid) -> tuple[tuple[slice, slice], Grid]:
    """The part of a grid that lies over the blank: rows and columns, and the part."""
    left, low, right, high = blank_area(job.blank).bounds
    cell = whole.cell
    first_x, first_y = int((left - whole.x0) / cell), int((low - whole.y0) / cell)
    end_x, end_y = math.ceil((right - whole.x0) / cell), math.ceil((high - whole.y0) / cell)
    part = Grid(
        x0=whole.x0 + first_x * cell,
        y0=whole.y0 + first_y * cell,
        cell=cell,
        rows=end_y - first_y,
        columns=end_x - first_x,
    )
    return (slice(first_y, end_y), slice(first_x, end_x)), part


def _inside(grid: Grid, area: BaseGeometry) -> Mask:
    """Cells whose middle lies in an area; looks only where the area is."""
    mask = np.zeros(grid.shape, dtype=np.bool_)
    if area.is_empty:
        return mask
    x, y = grid.centres()
    left, low, right, high = area.bounds
    columns = slice(*np.searchsorted(x, [left, right]))
    rows = slice(*np.searchsorted(y, [low, high]))
    shapely.prepare(area)
    mask[rows, columns] = shapely.contains_xy(area, x[None, columns], y[rows, None])
    return mask


def _face(
    scene: Scene, side: Side, whole: Grid, window: tuple[slice, slice], grid: Grid
) -> FaceMap:
    """Sweep one face cut by cut, and compare each cutter's floor with its deepest clear one."""
    job = scene.job_of(side)
    views = cuts_of(scene, side)
    floor = np.zeros(grid.shape, dtype=np.float32)
    by_cutter: dict[str, HeightArray] = {}
    cutters: dict[str, Cutter] = {}
    remains = _Remains(grid)
    for index, view in enumerate(views):
        cutter = view.planned.cutter
        cutters[cutter.name] = cutter
        own = by_cutter.setdefault(cutter.name, np.zeros(grid.shape, dtype=np.float32))
        cut_away(own, grid, job, cutter, chords(view.moves, cutter))
        np.minimum(floor, own, out=floor)
        remains.look(view, floor, last=not _goes_on(views, index))
    fields = piece_fields(job, side, whole)
    margin = np.full(grid.shape, np.nan, dtype=np.float32)
    for name, own in by_cutter.items():
        found = _margin(job, side, cutters[name], fields, window, own)
        margin = np.fmin(margin, found)
    margin, worst = _judged_by_check(scene, side, margin, grid)
    return FaceMap(
        side=side,
        floor=floor,
        margin=margin,
        worst=worst,
        left=remains.left,
        later=remains.later,
        parts=tuple(remains.parts),
    )


def _goes_on(views: tuple[CutView, ...], index: int) -> bool:
    """Whether a later part belongs to the same cut."""
    name = views[index].planned.cut.name
    return any(view.planned.cut.name == name for view in views[index + 1 :])


def _margin(
    job: Job,
    side: Side,
    cutter: Cutter,
    fields: tuple[NeedField, ...],
    window: tuple[slice, slice],
    own: HeightArray,
) -> HeightArray:
    """Floor of one cutter less the deepest that it could leave, NaN where it cuts nothing."""
    found = np.full(own.shape, np.nan, dtype=np.float32)
    cut = own < 0.0
    if not cut.any():
        return found
    if not fields:
        found[cut] = np.inf
        return found
    deepest = deepest_tip(job, cutter)
    tip = lowest_clear_tip(job, side, cutter, fields)
    lowest = np.maximum(_shrunk(tip.z), np.float32(deepest))[window]
    rows, columns = (_span(cut.any(axis=axis)) for axis in (1, 0))
    reach = math.ceil(cutter.radius / tip.grid.cell)
    box = (_wider(rows, reach, own.shape[0]), _wider(columns, reach, own.shape[1]))
    clear = -dilate(-lowest[box], _table(job, cutter, tip.grid.cell))
    bound = clear > deepest + _GONE
    found[box] = np.where(bound, own[box] - clear, np.inf)
    found[~cut] = np.nan
    return found


def _shrunk(z: HeightArray) -> HeightArray:
    """Heights drawn in by a cell all round: what the field of closed cells errs high by."""
    from scipy.ndimage import minimum_filter

    return np.asarray(minimum_filter(z, size=3, mode="nearest"), dtype=np.float32)


def _span(some: object) -> slice:
    """From the first to the last that is true."""
    hits = np.flatnonzero(np.asarray(some))
    return slice(int(hits[0]), int(hits[-1]) + 1)


def _wider(span: slice, by: int, end: int) -> slice:
    return slice(max(0, span.start - by), min(end, span.stop + by))


def _table(job: Job, cutter: Cutter, cell: float) -> HeightArray:
    """Height of the flutes above the tip by cell offset, at the middles of cells."""
    count = math.ceil(cutter.radius / cell)
    steps = np.arange(-count, count + 1) * cell
    flutes = profile_of(cutter, job.machine.nut).only("flutes")
    heights = flutes.height(np.hypot(steps[:, None], steps[None, :]))
    return np.ascontiguousarray(heights, dtype=np.float32)


def _judged_by_check(
    scene: Scene, side: Side, margin: HeightArray, grid: Grid
) -> tuple[HeightArray, Spot | None]:
    """The margin with less than nothing only where the check refused a cut: this raster is
    coarser than the check and errs to the low side beside a piece. And the worst place."""
    views = [view for view in cuts_of(scene, side) if _too_near(view)]
    areas = [
        shapely.buffer(whole_area(view.planned.cut), view.planned.cutter.radius) for view in views
    ]
    refused = _inside(grid, shapely.union_all(areas)) if areas else np.zeros(grid.shape, np.bool_)
    judged = np.where(refused, margin, np.maximum(margin, np.float32(0.0)))
    bound = np.isfinite(margin)
    if not bound.any():
        return judged, None
    own = np.where(bound, np.where(refused | ~refused.any(), margin, np.inf), np.inf)
    at = int(np.argmin(own if np.isfinite(own).any() else np.where(bound, margin, np.inf)))
    return judged, _spot(grid, at, float(judged.flat[at]))


def _too_near(view: CutView) -> bool:
    near = {Code.PIECE, Code.CLAMP}
    found = any(f.refuses and f.code in near for f in view.findings)
    return view.verdict is Verdict.REFUSED and found


def _spot(grid: Grid, flat: int, value: float) -> Spot:
    row, column = divmod(flat, grid.columns)
    x, y = grid.centres()
    return float(x[column]), float(y[row]), value


class _Remains:
    """What each part of a cut leaves, gathered while a face is swept."""

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        self.left = np.full(grid.shape, np.nan, dtype=np.float32)
        self.later = np.full(grid.shape, np.nan, dtype=np.float32)
        self.parts: list[Left] = []

    def look(self, view: CutView, floor: HeightArray, *, last: bool) -> None:
        """Compare the floor after a part with the one that its cut asks for. Holes are not
        looked at: a drill leaves nothing."""
        cut = view.planned.cut
        if isinstance(cut, Drill) or not len(view.moves):
            return
        over = np.full(self.grid.shape, -np.inf, dtype=np.float32)
        for area, depth in asked_for(cut):
            inner = shapely.buffer(area, -_RIM * self.grid.cell)
            where = _inside(self.grid, inner)
            over[where] = floor[where] + np.float32(depth)
        if isinstance(cut, Relief):
            x, y = self.grid.centres()
            where = np.isfinite(over)
            row, column = np.nonzero(where)
            asked = cut.ground.heights(np.column_stack([x[column], y[row]]))
            over[where] = floor[where] - asked.astype(np.float32)
        stands = over > _LEAST_LEFT
        target = self.left if last else self.later
        if not isinstance(cut, Relief) or view.planned.cutter in cut.finishers:
            target[stands] = over[stands]  # what only roughs leaves something everywhere
        self.parts.append(
            Left(
                number=view.number,
                name=cut.name,
                cutter=view.planned.cutter.name,
                area=float(stands.sum()) * self.grid.cell**2,
                at=_heart(stands, self.grid),
                last=last,
                reached=view.planned.uncut_area if last and isinstance(cut, Relief) else None,
            )
        )


def _heart(mask: Mask, grid: Grid) -> tuple[float, float] | None:
    """The middle cell of the largest connected part of a mask."""
    from scipy.ndimage import center_of_mass, label

    if not mask.any():
        return None
    box = tuple(_span(mask.any(axis=axis)) for axis in (1, 0))
    parts, count = label(mask[box])
    sizes = np.bincount(parts.ravel())
    largest = int(np.argmax(sizes[1:])) + 1 if count > 1 else 1
    middle = np.array(center_of_mass(parts == largest))
    cells = np.argwhere(parts == largest)
    row, column = cells[np.argmin(((cells - middle) ** 2).sum(axis=1))]
    x, y = grid.centres()
    return float(x[box[1].start + column]), float(y[box[0].start + row])


def _thickness(scene: Scene, faces: dict[Side, FaceMap], grid: Grid, inside: Mask) -> HeightArray:
    """What is left of the blank between both faces; NaN off the blank."""
    blank = scene.final.blank
    left = np.full(grid.shape, blank.thickness, dtype=np.float32)
    for face in faces.values():
        left += face.floor
    left = np.where(left > _GONE, left, np.float32(0.0))
    return np.where(inside, left, np.float32(np.nan)).astype(np.float32)


def _thinnest(thickness: HeightArray, grid: Grid) -> Spot | None:
    """Where least is left without being cut through; the raster's edge cells do not count."""
    there = np.where(thickness > _GONE, thickness, np.float32(np.inf))
    if not np.isfinite(there).any():
        return None
    from scipy.ndimage import maximum_filter

    steady = maximum_filter(np.where(np.isnan(there), np.inf, there), size=3, mode="nearest")
    flat = int(np.argmin(steady if np.isfinite(steady).any() else there))
    return _spot(grid, flat, float(there.flat[flat]))

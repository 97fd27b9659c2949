"""The map of a relief: depths from samples or from a mesh, placed on a face."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from toolpath.drawing.ground import Ground
from toolpath.drawing.mesh import ENDINGS as MESHES
from toolpath.drawing.mesh import read_mesh
from toolpath.drawing.mesh_ground import seen_from_above
from toolpath.drawing.samples import ENDINGS as SAMPLED
from toolpath.drawing.samples import Samples, read_samples
from toolpath.errors import DrawingError
from toolpath.job.files import file_unit, named_file
from toolpath.job.keys import MAPS
from toolpath.job.limits import GAP, MAX_DRAWING_BYTES, MAX_MESH_BYTES, PLACE, SCALE, SIZE, TURN
from toolpath.job.table import Table
from toolpath.job.words import number_text
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_area, show_place

FloatArray = NDArray[np.float64]

_NO_UNIT = 'missing: a mesh says nothing of its unit: give unit = "mm" (or "in", "cm", "m")'
_TERRACES = 256
"""Samples of no more different values than this are in terraces that a finger feels."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Map:
    """What a map says: the ground, and `terrace`, the height of its terraces, mm, 0 for none."""

    ground: Ground
    terrace: float = 0.0

    @property
    def deepest(self) -> float:
        """Depth of its lowest place, mm."""
        return -float(self.ground.z.min())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Raw:
    """Heights as the file has them, -inf where nothing is seen, and where they lie."""

    file: str
    z: FloatArray
    at: tuple[float, ...]
    size: tuple[float, ...]
    turn: float
    terrace: float = 0.0


def read_map(table: Table, thickness: float, depth: float) -> Map | None:
    """``map = { … }`` of a relief in a blank of that thickness; None after a fault.

    `depth` is that of the cut, NaN where it is not given: the ground goes no deeper, and where a
    mesh is not seen it lies there (else as deep as the deepest place of the mesh).
    """
    if table.void:
        return None
    name = table.values.get("file")
    ending = Path(name).suffix.lower() if isinstance(name, str) else SAMPLED[0]
    if ending not in (*SAMPLED, *MESHES):
        known = ", ".join((*SAMPLED, *MESHES))
        table.fault("file", f'"{name}" is no map: the ending must be one of {known}')
        return None
    mesh = ending in MESHES
    table.allow(MAPS["a mesh" if mesh else "samples"])
    try:
        found = _of_mesh(table) if mesh else _of_samples(table)
    except (DrawingError, ValueError) as error:
        table.fault("file", str(error))
        return None
    return None if found is None else _down_to(table, found, thickness, depth)


def _down_to(table: Table, found: _Raw, thickness: float, depth: float) -> Map | None:
    z, show = found.z, table.reading.show
    seen = np.isfinite(z)
    deepest = -float(z[seen].min())
    floor = deepest if math.isnan(depth) else depth
    lowest = min(floor, deepest)
    if lowest > thickness + TOLERANCES.equal:
        table.fault(
            "",
            f"{found.file}: its deepest place, {show(deepest)}, is deeper than the blank "
            f"({show(thickness)}): make it shallower, or give the cut a depth at which it ends",
        )
        return None
    if -float(z[seen].max()) < -TOLERANCES.equal:
        high = show(float(z[seen].max()))
        table.fault("", f"{found.file}: rises {high} above the face: place it deeper")
        return None
    if deepest <= TOLERANCES.equal:
        table.fault("", f"{found.file}: lies level with the face: nothing would be left to cut")
        return None
    heights = np.clip(np.where(seen, z, -floor), -floor, 0.0)
    at, size = (found.at[0], found.at[1]), (found.size[0], found.size[1])
    ground = Ground(z=heights, at=at, size=size, turn=found.turn)
    return Map(ground=ground, terrace=found.terrace)


# ---- samples ---------------------------------------------------------------------------------


def _of_samples(table: Table) -> _Raw | None:
    file = named_file(table, "file", MAX_DRAWING_BYTES)
    size = table.lengths("size", "[x, y]", SIZE)
    at, turn = table.lengths("at", "[x, y]", PLACE), table.degrees("turn", TURN, 0.0)
    smooth = table.length("smooth", GAP, 0.0)
    if file is None:
        return None
    samples = read_samples(file)
    try:
        depths, scale = _depths(table, samples)
    except DrawingError as error:
        raise DrawingError(f"{file.name}: {error}") from error
    if depths is None or math.isnan(sum(size) + sum(at) + turn + smooth + scale):
        return None
    terrace = _terrace(samples.values) * scale
    rows, columns = depths.shape
    step = size[0] / (columns - 1), size[1] / (rows - 1)
    if smooth > 0.0:
        depths = _smoothed(table, depths, terrace, (smooth / step[1], smooth / step[0]))
    elif terrace > 0.0:
        _tell(table, file, samples, terrace, step)
    return _Raw(file=file.name, z=-depths, at=at, size=size, turn=turn, terrace=terrace)


def _depths(table: Table, samples: Samples) -> tuple[FloatArray | None, float]:
    """Depths, mm, and how many mm one of the file's own numbers stands for; None after a fault."""
    show, unit = table.reading.show, table.reading.unit.mm
    if table.has("low") or table.has("high") or samples.full_scale is not None:
        low, high = table.length("low", GAP), table.length("high", GAP)
        if math.isnan(low + high):
            return None, math.nan
        if abs(high - low) <= TOLERANCES.equal:
            table.fault(
                "high",
                f"{show(high)} must differ from low: the map would be level; both are depths",
            )
            return None, math.nan
        counted = samples.full_scale
        span = counted if counted is not None else float(np.ptp(samples.values))
        return samples.between(low, high), abs(high - low) / span
    least = float(samples.values.min())
    if least < 0.0:
        raise DrawingError(
            f"its least number is {number_text(least)}: without low and high the numbers are "
            "depths below the face, 0 or more; give low and high, or turn their sign"
        )
    return samples.values * unit, unit


def _terrace(values: FloatArray) -> float:
    """The least step between samples of few different values, in their own numbers; 0 for many."""
    stepped = np.unique(values)
    return float(np.diff(stepped).min()) if len(stepped) <= _TERRACES else 0.0


def _tell(
    table: Table, file: Path, samples: Samples, terrace: float, step: tuple[float, float]
) -> None:
    count, show = len(np.unique(samples.values)), table.reading.show
    wide = math.ceil(40.0 * max(step)) / 10.0
    table.warn(
        "file",
        f"{file.name} holds {count} different values, so the floor is in terraces of "
        f"{show(round(terrace, 4))}: save it with 16 bits, or give smooth = "
        f"{number_text(wide / table.reading.unit.mm)} or more to even them out",
    )


def _smoothed(
    table: Table, depths: FloatArray, terrace: float, reach: tuple[float, float]
) -> FloatArray:
    """Depths evened out over `reach` samples along rows and columns, none moved by more than half
    a terrace."""
    if terrace == 0.0:
        table.warn("smooth", "the map has no terraces: it is taken as it is; leave smooth out")
        return depths
    from scipy import ndimage

    even = ndimage.gaussian_filter(depths, [each / 2.0 for each in reach], mode="nearest")
    half = terrace / 2.0
    return np.asarray(np.clip(even, depths - half, depths + half), dtype=np.float64)


# ---- meshes ----------------------------------------------------------------------------------


def _of_mesh(table: Table) -> _Raw | None:
    file = named_file(table, "file", MAX_MESH_BYTES)
    unit = file_unit(table, required=_NO_UNIT)
    scale = table.number("scale", SCALE, "", 1.0)
    at, turn = table.lengths("at", "[x, y]", PLACE), table.degrees("turn", TURN, 0.0)
    high = table.length("high", GAP, 0.0)
    tilt = table.numbers("tilt", "[about X, about Y]", TURN, "degrees") if table.has("tilt") else ()
    if file is None or unit is None or math.isnan(scale + sum(at) + turn + high + sum(tilt)):
        return None
    data = read_mesh(file, unit * scale)
    corners = _tilted(data.vertices, tilt)[data.triangles]
    side = float(np.ptp(corners.reshape(-1, 3), axis=0).max())
    if SIZE.breach(side):
        show = table.reading.show
        large = f"{file.name}: is {show(side)} large, at most {show(SIZE.high)} are taken"
        table.fault("file", f"{large}: look at unit and scale")
        return None
    try:
        z, size = seen_from_above(corners)
    except ValueError as error:
        raise DrawingError(f"{file.name}: {error}: turn it with tilt = [90, 0]") from error
    raw = _Raw(file=file.name, z=z - float(z.max()) - high, at=at, size=size, turn=turn)
    if not data.watertight:
        _tell_gap(table, raw)
    return raw


def _tell_gap(table: Table, raw: _Raw) -> None:
    """Warn of places inside a mesh that is not closed at which nothing is seen."""
    from scipy import ndimage

    count, _ = ndimage.label(~np.isfinite(raw.z))
    edge = np.concatenate([count[0], count[-1], count[:, 0], count[:, -1]])
    within = ~np.isin(count, np.union1d(edge, [0]))
    if not within.any():
        return
    rows, columns = (n - 1 for n in raw.z.shape)
    row, column = np.argwhere(within)[int(within.sum()) // 2].tolist()
    u, v = (column / columns - 0.5) * raw.size[0], (row / rows - 0.5) * raw.size[1]
    c, s = math.cos(raw.turn), math.sin(raw.turn)
    area = float(within.sum()) * raw.size[0] * raw.size[1] / (rows * columns)
    unit = table.reading.unit
    place = show_place(raw.at[0] + c * u - s * v, raw.at[1] + s * u + c * v, unit)
    table.warn(
        "file",
        f"{raw.file} is not closed: {show_area(area, unit)} inside it show nothing, as about "
        f"{place}, and are cut to the depth of the cut: close the mesh if it has no hole there",
    )


def _tilted(points: FloatArray, tilt: tuple[float, ...]) -> FloatArray:
    """Points turned about x, then about y, degrees."""
    if not tilt:
        return points
    (cx, sx), (cy, sy) = ((math.cos(a), math.sin(a)) for a in map(math.radians, tilt))
    about_x = np.array([[1.0, 0.0, 0.0], [0.0, cx, -sx], [0.0, sx, cx]])
    about_y = np.array([[cy, 0.0, sy], [0.0, 1.0, 0.0], [-sy, 0.0, cy]])
    return np.asarray(points @ about_x.T @ about_y.T)

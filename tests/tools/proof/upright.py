"""Gaps to solids that stand on a footprint, and to balls, by closed forms and shapely.

A point at the distance r from the cutter's axis and the height z lies as far from the turned
body as (r, z) does from its half section. A footprint with a height therefore meets it as the
upright line at its least distance from the axis, a ball as its middle less its radius.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely

from proof.cutters import RINGS, half_section, skin
from proof.nouns import Clamp, Job, Piece
from proof.ways import Ways, turned

WIDTH = 0.003
"""Gaps are found to within this, mm."""
ANGLE = 0.0005
"""What angles or arcs of the drift tried one by one may miss, mm."""
CIRCLE = 0.0005
"""Footprints with arcs lie inside the true ones by less than this, mm."""


@dataclass(frozen=True)
class Standing:
    """Heights `low` to `high` in the blank frame, widened by the drift; `ball` the radius taken
    off, `aside` how far it goes to the side."""

    job: Job
    piece: Piece | None
    low: float
    high: float
    aside: float
    ball: float
    area: shapely.Geometry | None


def standing(job: Job, piece: Piece) -> Standing:
    solid = piece.solid
    height = {"box": lambda: solid["size"][2], "sphere": lambda: solid["diameter"]}.get(
        piece.kind, lambda: solid.get("height")
    )()
    rise = piece.rise + (job.within if piece.face != job.face else 0.0)
    low = -piece.depth - height if piece.face == "front" else -job.thickness + piece.depth
    high, ball = low + height, 0.0
    if piece.kind == "sphere":
        ball = height / 2.0
        low, high = low + ball, high - ball
    area = _area(piece)
    return Standing(job, piece, low - rise, high + rise, piece.side, ball, area)


def standing_clamp(job: Job, clamp: Clamp) -> Standing:
    far = 5000.0
    ends = (-far, clamp.height) if job.face == "front" else (-job.thickness - clamp.height, far)
    return Standing(job, None, *ends, 0.0, 0.0, shapely.box(*clamp.rect))


def _area(piece: Piece) -> shapely.Geometry | None:
    """The footprint at its nominal place; None for what is round."""
    if piece.kind in ("cylinder", "sphere"):
        return None
    boxed = piece.kind == "box"
    area = shapely.box(0.0, 0.0, *piece.solid["size"][:2]) if boxed else piece.shape
    area = shapely.transform(area, lambda xy: turned(xy, (0.0, 0.0), math.radians(piece.turn)))
    x0, y0, x1, y1 = area.bounds
    dx, dy = piece.at[0] - (x0 + x1) / 2.0, piece.at[1] - (y0 + y1) / 2.0
    area = shapely.transform(area, lambda xy: xy + np.array([dx, dy]))
    shapely.prepare(area)
    return area


def aside_of(solid: Standing, xy: np.ndarray) -> np.ndarray:
    """(k,) least distances of the drifting footprint from places (k, 2)."""
    piece = solid.piece
    if solid.area is None:
        round_ = 0.0 if piece.kind == "sphere" else piece.solid["diameter"] / 2.0
        return np.maximum(np.hypot(*(xy - piece.at).T) - round_ - solid.aside, 0.0)
    swing = math.radians(piece.swing) if piece is not None else 0.0
    if not swing:
        return np.maximum(shapely.distance(solid.area, shapely.points(xy)) - solid.aside, 0.0)
    if piece.kind == "box":
        return np.maximum(_swung_box(piece, xy, swing) - solid.aside, 0.0)
    # A footprint that turns one way about `at` is a place that turns the other way about it.
    far = float(np.hypot(*(xy - piece.at).T).max())
    count = max(2, math.ceil(swing / math.sqrt(2.0 * ANGLE / max(far, 1.0))))
    angles = np.linspace(-swing, swing, count + 1)
    arcs = turned(xy[:, None, :], piece.at, angles[None, :])
    found = shapely.distance(solid.area, shapely.linestrings(arcs))
    return np.maximum(found - solid.aside, 0.0)


def _swung_box(piece: Piece, xy: np.ndarray, swing: float) -> np.ndarray:
    """Beside a rectangle that turns about its middle: it is nearest at one end of its swing, or
    with a corner pointing at the place."""
    hx, hy = (size / 2.0 for size in piece.solid["size"][:2])
    off = turned(xy - piece.at, (0.0, 0.0), -math.radians(piece.turn))
    far, angle = np.hypot(*off.T), np.arctan2(off[:, 1], off[:, 0])
    found = np.full(len(xy), np.inf)
    for end in (-swing, swing):
        x, y = far * np.cos(angle + end), far * np.sin(angle + end)
        beside = np.hypot(np.maximum(np.abs(x) - hx, 0.0), np.maximum(np.abs(y) - hy, 0.0))
        found = np.minimum(found, beside)
    corner = math.atan2(hy, hx)
    for one in (corner, -corner, math.pi - corner, corner - math.pi):
        apart = np.abs((angle - one + math.pi) % math.tau - math.pi)
        pointing = np.maximum(far - math.hypot(hx, hy), 0.0)
        found = np.where(apart <= swing, np.minimum(found, pointing), found)
    return found


def _from_section(job: Job, section, solid: Standing, r, low_z, high_z) -> np.ndarray:
    """Gaps where the tip is between low_z and high_z (blank frame) at the distance r."""
    ends = (solid.low - high_z, solid.high - low_z)
    if job.up < 0.0:
        ends = (low_z - solid.high, high_z - solid.low)
    lines = np.stack([np.column_stack([r, ends[0]]), np.column_stack([r, ends[1]])], axis=1)
    flat = lines[:, 0, 1] == lines[:, 1, 1]
    lines[flat, 1, 1] += 1e-9
    found = shapely.distance(section, shapely.linestrings(lines))
    return np.maximum(found - solid.ball, 0.0)


def gap(ways: Ways, solid: Standing, width: float = WIDTH) -> tuple[float, float, int]:
    """(low, high) round the least gap over all ways, and the row where it is found (-1: a box)."""
    job, section = ways.job, half_section(ways.job)
    best, where = _boxes(ways, solid, section), -1
    row, speed = np.arange(len(ways)), ways.speed
    low, high = np.zeros(len(row)), np.ones(len(row))
    while len(row):
        tips = ways.at(row, (low + high) / 2.0)
        r = aside_of(solid, tips[:, :2])
        found = _from_section(job, section, solid, r, tips[:, 2], tips[:, 2])
        if float(found.min()) < best:
            best, where = float(found.min()), int(row[found.argmin()])
        open_ = found - speed[row] * (high - low) / 2.0 < best - width
        if best <= 0.0:
            break
        row, low, high = row[open_], low[open_], high[open_]
        third = (high - low) / 3.0
        row = np.tile(row, 3)
        low, high = (
            np.concatenate([low, low + third, high - third]),
            np.concatenate([low + third, high - third, high]),
        )
    swung = piece_swings(solid) and solid.piece.kind == "prism"
    hidden = width + 2.0 * ANGLE + skin(job.cutter.diameter / 2.0, RINGS) + CIRCLE
    return max(best - hidden, 0.0), best + (ANGLE if swung else 0.0), where


def piece_swings(solid: Standing) -> bool:
    return solid.piece is not None and solid.piece.swing > 0.0


def _boxes(ways: Ways, solid: Standing, section) -> float:
    """Least gap of rapids that wander: the footprint's distance from their rectangle, the heights
    from theirs."""
    if not len(ways.boxes):
        return math.inf
    low, high = ways.boxes[:, 0], ways.boxes[:, 1]
    piece = solid.piece
    rects = shapely.from_ragged_array(
        shapely.GeometryType.LINESTRING,
        np.stack(
            [
                low[:, :2],
                np.stack([low[:, 0], high[:, 1]], axis=1),
                high[:, :2],
                np.stack([high[:, 0], low[:, 1]], axis=1),
                low[:, :2],
            ],
            axis=1,
        ).reshape(-1, 2),
        (np.arange(len(low) + 1) * 5,),
    )
    rects = shapely.convex_hull(rects)
    if solid.area is None:
        round_ = 0.0 if piece.kind == "sphere" else piece.solid["diameter"] / 2.0
        r = shapely.distance(rects, shapely.Point(piece.at)) - round_
    else:
        r = np.array([_swung(solid, rect) for rect in rects])
    r = np.maximum(r - solid.aside, 0.0)
    return float(_from_section(ways.job, section, solid, r, low[:, 2], high[:, 2]).min())


def _swung(solid: Standing, rect: shapely.Geometry) -> float:
    """Least distance of a rectangle from a footprint as it turns: at an angle in the middle of
    others it is at most its arm times half their span more than at any of them."""
    if not piece_swings(solid):
        return float(shapely.distance(solid.area, rect))
    at, swing = solid.piece.at, math.radians(solid.piece.swing)
    corners = shapely.get_coordinates(solid.area)
    arm = float(np.hypot(*(corners - at).T).max())
    best, spans = math.inf, [(-swing, swing)]
    while spans:
        first, last = spans.pop()
        angle, half = (first + last) / 2.0, (last - first) / 2.0
        # The rectangle turns the other way instead: it has fewer corners.
        back = shapely.transform(rect, lambda xy, a=angle: turned(xy, at, -a))
        found = float(shapely.distance(solid.area, back))
        best = min(best, found)
        if found - arm * half < best - 2.0 * ANGLE:
            spans += [(first, angle), (angle, last)]
    return best

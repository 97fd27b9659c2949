"""Gaps to solids of triangles by manifold3d: the cutter's convex parts, swept along chords as
convex hulls, against the closed solid. The drift to the side and up is given to the cutter, and
its turn too, the other way round."""

import math
from dataclasses import dataclass

import numpy as np
from manifold3d import Manifold, Mesh64

from proof.cutters import sections, skin
from proof.nouns import Job, Piece, placed_corners
from proof.ways import Ways, turned

WIDTH, TURNED_WIDTH = 0.004, 0.02
"""Gaps are found to within this, mm, of solids that do not turn and that do."""
FAR = 7.0
"""Gaps of more are not told apart."""
LOOKS = 250
"""Hulls looked at before what is still open is left so: the truth is then less narrow."""
TOUCH = 0.02
"""A gap of less, mm, may be none: it is not told apart."""
COARSE = 0.1
"""Spans that may hide more than this, mm, are looked at with coarser bodies."""


@dataclass(frozen=True)
class Parts:
    """Convex parts of the cutter, each as corners (k, 3), and how far they lie inside the true
    ones at most."""

    corners: list[np.ndarray]
    skin: float


@dataclass(frozen=True)
class Solid:
    piece: Piece
    body: Manifold
    corners: np.ndarray
    coarse: Parts
    fine: Parts
    arm: float


def solid_of(job: Job, piece: Piece) -> Solid:
    corners = placed_corners(piece, job.thickness)
    faces = np.ascontiguousarray(piece.shape[1], dtype=np.uint64)
    body = Manifold(Mesh64(np.ascontiguousarray(corners), faces))
    if body.is_empty() or body.volume() <= 0.0:
        raise ValueError(f"{piece.name} is no closed solid: {body.status()}")
    arm = float(np.hypot(*(corners[:, :2] - piece.at).T).max())
    return Solid(piece, body, corners, _parts(job, piece, 24, 6), _parts(job, piece, 96, 24), arm)


def _parts(job: Job, piece: Piece, around: int, rings: int) -> Parts:
    rise = piece.rise + (job.within if piece.face != job.face else 0.0)
    found = sections(job, rings)
    widest = max(each[:, 0].max() for each in found) + piece.side
    hidden = widest * (1.0 - math.cos(math.pi / around)) + skin(job.cutter.diameter / 2.0, rings)
    return Parts([_part(each, piece.side, rise, job.up, around) for each in found], hidden)


def _part(section, side: float, rise: float, up: float, around: int) -> np.ndarray:
    """Corners (k, 3) whose hull is a convex part grown by the drift; tip at zero, blank frame."""
    grown = np.concatenate(
        [section + np.array([side, way * rise]) for way in ((-1, 1) if rise else (0,))]
    )
    angle = np.arange(around) * math.tau / around
    rings = [
        np.column_stack([r * np.cos(angle), r * np.sin(angle), np.full(around, up * z)])
        if r > 0.0
        else np.array([[0.0, 0.0, up * z]])
        for r, z in grown
    ]
    return np.concatenate(rings)


def gap(ways: Ways, solid: Solid) -> tuple[float, float, int]:
    """(low, high) round the least gap, and the row where it is found (-1: a box); of what is
    further off than FAR no upper bound is known."""
    width = TURNED_WIDTH if solid.piece.swing else WIDTH
    search = _Search(ways, solid, width)
    for box in ways.boxes:
        search.box(box)
    search.lines()
    low = min(search.best - width, search.left) - solid.fine.skin
    high = search.best if search.best < FAR else math.inf
    return max(low, 0.0) if search.best > TOUCH else 0.0, high, search.where


class _Search:
    """`best` is a gap that is reached, `left` a lower bound of what was not looked at."""

    def __init__(self, ways: Ways, solid: Solid, width: float) -> None:
        self.ways, self.solid, self.width = ways, solid, width
        self.best, self.where, self.left, self.looks = FAR, -1, FAR, 0
        self.swing = math.radians(solid.piece.swing)
        low, high = solid.corners.min(axis=0), solid.corners.max(axis=0)
        reach = np.array([1.0, 1.0, 0.0]) * (self.swing * solid.arm)
        self.low, self.high = low - reach, high + reach

    def apart(self, tips: np.ndarray, part: np.ndarray) -> float:
        """A lower bound: from box to box."""
        low, high = tips.min(axis=0) + part.min(axis=0), tips.max(axis=0) + part.max(axis=0)
        return float(np.linalg.norm(np.maximum(np.maximum(self.low - high, low - self.high), 0.0)))

    def gap(self, tips: np.ndarray, angle: float, limit: float, hidden: float) -> float:
        """Least gap of the parts swept over the hull of tips, the solid turned by an angle, as
        far as it matters: `limit` or a lower bound of it where it is no less than `limit`."""
        self.looks += 1
        tips = turned(tips, self.solid.piece.at, -angle) if angle else tips
        coarse = self.solid.coarse
        found = self._swept(tips, coarse, limit + coarse.skin)
        if hidden > COARSE or found - coarse.skin >= limit:
            return min(found, limit)
        return self._swept(tips, self.solid.fine, limit)

    def _swept(self, tips: np.ndarray, parts: Parts, limit: float) -> float:
        found = limit
        for part in parts.corners:
            if self.apart(tips, part) < found:
                hull = Manifold.hull_points((part[None] + tips[:, None]).reshape(-1, 3))
                found = min(found, self.near(hull, found))
        return found

    def near(self, hull: Manifold, limit: float) -> float:
        """manifold3d looks only as far as it is told: a short look first is the quicker."""
        for look in (0.3, 1.2, 4.0):
            if look < limit:
                found = hull.min_gap(self.solid.body, look)
                if found < look:
                    return found
        return hull.min_gap(self.solid.body, limit)

    def lines(self) -> None:
        """Ways in spans of share and angle, the nearest first, split till nothing is open."""
        ways = self.ways
        bend, arm = ways.bend, self.solid.arm
        open_ = [(0.0, row, 0.0, 1.0, -self.swing, self.swing) for row in range(len(ways))]
        while open_:
            left = []
            for bound, row, low, high, first, last in sorted(open_):
                if bound >= self.best - self.width or self.best <= TOUCH:
                    continue
                if self.looks > LOOKS:
                    self.left = min(self.left, bound)
                    continue
                sag, turn = bend[row] * (high - low) ** 2, arm * (last - first) / 2.0
                tips = ways.at(np.array([row, row]), np.array([low, high]))
                limit = self.best + sag + turn
                rough = self.solid.coarse.skin if sag + turn > COARSE else 0.0
                found = self.gap(tips, (first + last) / 2.0, limit + rough, sag + turn)
                if found + sag < self.best:  # the angle is one that is reached, the chord near it
                    self.best, self.where = found + sag, row
                bound = found - sag - turn - rough
                if bound >= self.best - self.width:
                    continue
                if sag > turn:
                    middle = (low + high) / 2.0
                    left += [(bound, row, low, middle, first, last)]
                    left += [(bound, row, middle, high, first, last)]
                else:
                    middle = (first + last) / 2.0
                    left += [(bound, row, low, high, first, middle)]
                    left += [(bound, row, low, high, middle, last)]
            open_ = left

    def box(self, box: np.ndarray) -> None:
        """A rapid that wanders over a box, at all angles."""
        x, y, z = (box[:, axis] for axis in range(3))
        tips = np.array([(i, j, k) for i in x for j in y for k in z])
        spans = [(-self.swing, self.swing)]
        while spans:
            first, last = spans.pop()
            turn = self.solid.arm * (last - first) / 2.0
            rough = self.solid.coarse.skin if turn > COARSE else 0.0
            found = self.gap(tips, (first + last) / 2.0, self.best + turn + rough, turn)
            self.best = min(self.best, found)
            if self.looks > LOOKS:
                self.left = min(self.left, found - turn - rough)
            elif found - turn - rough < self.best - self.width:
                middle = (first + last) / 2.0
                spans += [(first, middle), (middle, last)]

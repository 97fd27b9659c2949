"""The last pass of a bounded way along its walls, then through its corners.

Frame: x, y of the blank frame or its mirror image in which climbing has the stock on its right,
millimetres, radians. Only what takes something is walked: of a wall that an earlier cutter
finished the stretches from which it left something.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import chain

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.corner_passes import Passes, Rounding, corner_passes
from toolpath.plan.legs import Kind, Walk
from toolpath.plan.lines import evenly, length_of, places_on, starting_at, stretch
from toolpath.plan.near import Near
from toolpath.plan.places import Place
from toolpath.plan.returns import Heading
from toolpath.plan.rings import polygons_of, rings_of

FloatArray = NDArray[np.float64]

ROUND = 0.65
"""The last pass along the walls rounds inner corners by this, in radii."""
LEADS = (1.0, 0.5, 0.25)
"""Radii of the quarter turns on to a wall that are tried, in radii."""
CHIP = 0.01
"""Less than this along a wall is nothing to take, mm."""
PASSED = math.radians(10.0)
"""By how much the last pass may pass the bound, for some tenths of a millimetre."""
SEEN = 0.004
"""Films thinner than this are not told from none, mm (plan/near.py)."""
DENSE = 0.05
"""Places at which that is asked, in radii."""
OVER = 0.3
"""Stretches of a wall are walked this much further at both ends, in radii."""
ENDS = 0.15
"""... and so much further where an earlier cutter left a place."""
LATER = 0.1
"""... but begun so much later, in radii, where it touches nothing there yet."""
BESIDE = 1.5
"""Walls are looked at so far round a place that an earlier cutter left, in radii."""
WHOLE = 0.8
"""A wall of which more than this share is taken is walked once round."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walls:
    """Loops along all walls, inner corners rounded, and the passes that follow in each corner."""

    loops: tuple[FloatArray, ...] = field(repr=False)
    corners: tuple[Passes, ...] = field(repr=False)

    def corners_at(self, place: Place, radius: float) -> list[Passes]:
        """Those at a place that a cutter of that radius is to clear."""
        reach = BESIDE * radius
        return [c for c in self.corners if any(place.holds(arc, reach).any() for arc in c)]

    @classmethod
    def of(cls, area: BaseGeometry, first: Rounding, mouths: BaseGeometry | None = None) -> Walls:
        """Of where the centre of a cutter may be, rounded at first; `mouths` open from it into
        what is cut later."""
        now, corners = corner_passes(area, first, mouths or Polygon())
        parts = polygons_of(now)
        loops = tuple(ring.points for each in parts for ring in rings_of(Polygon(each), 0, 1.0))
        return cls(loops=loops, corners=corners)


def walk_walls(walk: Walk, walls: Walls, bound: float) -> None:
    """Once along all walls, their corners rounded, and through the corners; of a wall of which
    only stretches are walked each with the corners in it."""
    loops, corners = list(walls.loops), list(walls.corners)
    while loops:
        nearest = min(loops, key=walk.apart)
        loops = [loop for loop in loops if loop is not nearest]
        corners = _wall(walk, nearest, bound + PASSED, corners)
    _corners(walk, corners, bound + PASSED)


def walk_walls_at(walk: Walk, walls: Walls, place: Place, bound: float) -> None:
    """The same for the stretches and the corners at a place that an earlier cutter left."""
    near = walls.corners_at(place, walk.near.radius)
    pieces: list[FloatArray] = []
    for loop in walls.loops:
        stock = _taken(walk, loop, bound + PASSED, place)
        if stock.thin.any():
            found = _pieces(loop, stock, ENDS * walk.near.radius)
            pieces += [_later(walk, piece) for piece in found]
    for piece in _nearest_first(walk, pieces):
        piece = _led_on(walk, piece, bound + PASSED)
        near = _through(walk, piece, near, walk.cut_straight, bound + PASSED)
    _corners(walk, near, bound + PASSED)


def _later(walk: Walk, piece: FloatArray) -> FloatArray:
    """A stretch of wall without some of the air at its begin."""
    length = length_of(piece)
    shorter = stretch(piece, min(LATER * walk.near.radius, length / 2.0), length)
    return shorter if walk.near.clear(shorter[:1]) else piece


def _nearest_first(walk: Walk, pieces: list[FloatArray]) -> Iterator[FloatArray]:
    """Each when the walk stands at the end of the one before."""
    left = list(pieces)
    while left:
        nearest = min(left, key=lambda piece: walk.apart(piece[:1]))
        left = [piece for piece in left if piece is not nearest]
        yield nearest


def _through(
    walk: Walk,
    piece: FloatArray,
    corners: list[Passes],
    cut: Callable[[Kind, FloatArray], None],
    most: float,
) -> list[Passes]:
    """Along a stretch of wall, in each of its corners through the passes there before it goes on,
    so that none is come back to; the corners that are left. `cut` begins it."""
    line = LineString(piece)
    near = shapely.dwithin(line, _lines([each[0] for each in corners]), walk.near.radius / 4.0)
    here = [corner for corner, close in zip(corners, near, strict=True) if close]
    begin = 0.0
    for corner in sorted(here, key=lambda each: _end_on(line, each[0])):
        end = _end_on(line, corner[0])
        if end > begin:
            cut(Kind.WALL, stretch(piece, begin, end))
            cut, begin = walk.cut_straight, end
        _corner(walk, corner, walk.cut_straight, most)
    if length_of(piece) - begin > CHIP:
        cut(Kind.WALL, stretch(piece, begin, length_of(piece)))
    return [corner for corner, close in zip(corners, near, strict=True) if not close]


def _end_on(line: LineString, arc: FloatArray) -> float:
    """How far along a wall an arc ends."""
    return float(line.project(Point(arc[-1])))


def walk_ears(walk: Walk, lines: Sequence[FloatArray], swell: float, bound: float) -> None:
    """Into corners that are opened, each along its line (2, 2), in loops of radius `swell` about
    places on it."""
    left = list(lines)
    while left:
        nearest = min(left, key=walk.apart)
        left = [line for line in left if line is not nearest]
        first, *others = ear(nearest, swell, walk.near.radius, bound)
        walk.cut(Kind.CUT, first)
        for half in others:
            walk.near.sweep(np.vstack([walk.at.place, half]))
            walk.take(Kind.CUT, half)


def ear(line: FloatArray, swell: float, radius: float, bound: float) -> list[FloatArray]:
    """Halves (n, 2) of loops, climbing, about places along a line, begun and ended at their rear.

    Each takes from the hole of the one before, which is wider than the cutter by `swell` all
    round, what lies a step ahead of it. Where the rim touches the new hole's wall at an angle t
    from the way ahead, the old one is (step) cos t nearer; at an angle b further on along the rim
    the new one is swell x radius / (radius + swell) x (1 - cos b) away. So no more than b of the
    rim, on the side ahead, meets stock (elementary).
    """
    ahead = line[1] - line[0]
    length = float(np.hypot(*ahead))
    step = 0.9 * swell * radius / (radius + swell) * (1.0 - math.cos(bound))
    angle = math.atan2(ahead[1], ahead[0]) + math.pi + np.linspace(0.0, 2.0 * math.pi, 65)
    ring = swell * np.column_stack([np.cos(angle), np.sin(angle)])
    shares = np.linspace(0.0, 1.0, max(1, math.ceil(length / step)) + 1)
    loops = [line[0] + share * ahead + ring for share in shares]
    return [half for loop in loops for half in (loop[:33], loop[32:])]


def _wall(walk: Walk, loop: FloatArray, most: float, corners: list[Passes]) -> list[Passes]:
    """Along a wall and through its corners; those that are left."""
    stock = _taken(walk, loop, most)
    if not stock.thin.any():
        return corners
    if stock.thin.mean() > WHOLE and not _is_wide(walk, loop, most):
        led = _led(walk, loop, most)
        return _through(walk, led, corners, walk.cut, most)
    for piece in _nearest_first(walk, list(_pieces(loop, stock, OVER * walk.near.radius))):
        corners = _through(walk, _led_on(walk, piece, most), corners, walk.cut, most)
    return corners


def _is_wide(walk: Walk, line: FloatArray, most: float) -> bool:
    """Whether a line meets more than that for longer than a moment."""
    places = _even(line, DENSE * walk.near.radius)
    return bool(_wide(walk.near.copy().engaged(places, CHIP), most).any())


def _lines(arcs: list[FloatArray]) -> NDArray[np.object_]:
    return np.array([shapely.linestrings(arc) for arc in arcs], dtype=object)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stock:
    """What a loop meets at each of its even places: a skin, or so much that it is not walked."""

    thin: NDArray[np.bool_] = field(repr=False)
    wide: NDArray[np.bool_] = field(repr=False)

    def rolled(self, first: int) -> _Stock:
        """Of the loop begun at another place; the last place, which is the first, left out."""
        thin, wide = (np.roll(each[:-1], -first) for each in (self.thin, self.wide))
        return _Stock(thin=thin, wide=wide)

    def free(self, row: int, step: int, most: int) -> int:
        """How many places after (1) or before (-1) one the loop can be walked, up to so many."""
        rows = (row + step * np.arange(1, most + 1)) % len(self.wide)
        barred = np.flatnonzero(self.wide[rows])
        return int(barred[0]) if len(barred) else most


def _taken(walk: Walk, loop: FloatArray, most: float, place: Place | None = None) -> _Stock:
    """What the cutter meets along a loop. What the loops before did not get to is no skin, and is
    left to those who cut slots."""
    places = _even(loop, DENSE * walk.near.radius)
    near, here, film = walk.near, np.ones(len(places), dtype=np.bool_), {"chip": CHIP}
    if place is not None:
        beside = BESIDE * near.radius
        near, here = near.window(place.box(beside + 2.0 * near.radius)), place.holds(places, beside)
        film = {"film": SEEN}
    met, wide = np.zeros(len(places)), np.zeros(len(places), dtype=np.bool_)
    for _ in range(2):
        # What is not walked still stands beside those that are.
        fresh = near.copy()
        for run in _runs(here & ~wide):
            met[run] = fresh.engaged(places[run], **film)
        found = _wide(met, most)
        if not (found & ~wide).any():
            break
        wide |= found
    return _Stock(thin=(met > 0.0) & ~wide, wide=wide)


def _runs(marked: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    """The rows of each stretch that is marked."""
    rows = np.flatnonzero(marked)
    found = np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)
    return [run for run in found if len(run) > 1]


def wide_along(walk: Walk, walls: Walls, bound: float) -> FloatArray:
    """(n, 2) places along walls and in corners where the last pass, walked now, would meet more
    than the bound for longer than a moment."""
    near, found = walk.near.copy(), [np.empty((0, 2))]
    for line in (*walls.loops, *chain.from_iterable(walls.corners)):
        places = _even(line, DENSE * near.radius)
        found.append(places[_wide(near.engaged(places, CHIP), bound + PASSED)])
    return np.concatenate(found)


def _wide(met: FloatArray, most: float) -> NDArray[np.bool_]:
    return np.asarray(np.convolve(met > most, np.ones(9), mode="same") >= 5.0)


def _even(loop: FloatArray, pitch: float) -> FloatArray:
    return evenly(loop, pitch, 8)


def _pieces(loop: FloatArray, stock: _Stock, over: float) -> Iterator[FloatArray]:
    """The stretches of a closed loop that meet a skin, a little longer; short gaps are walked.
    None leads into what is not walked: there the whole cutter would be in stock."""
    length = length_of(loop)
    pitch = length / (len(stock.thin) - 1)
    first = _middle_of_gap(stock.thin[:-1])
    loop, stock = starting_at(loop, first * pitch), stock.rolled(first)
    rows = np.flatnonzero(stock.thin)
    barred = np.diff(np.cumsum(stock.wide)[rows]) > 0
    more = math.ceil(over / pitch) + 1
    for run in np.split(rows, np.flatnonzero((np.diff(rows) * pitch > 2.0 * over) | barred) + 1):
        before = min(stock.free(int(run[0]), -1, more) * pitch, over + pitch)
        after = min(stock.free(int(run[-1]), 1, more) * pitch, over)
        begin, end = float(run[0]) * pitch - before, float(run[-1]) * pitch + after
        if begin < 0.0:
            head = stretch(loop, length + begin, length)
            yield np.vstack([head, stretch(loop, 0.0, min(end, length + begin))[1:]])
        elif end - begin > CHIP:
            yield stretch(loop, begin, min(end, length))


def _middle_of_gap(taken: NDArray[np.bool_]) -> int:
    """The middle of the longest stretch of a ring that is not taken."""
    bare = np.flatnonzero(~np.tile(taken, 2))
    gaps = np.split(bare, np.flatnonzero(np.diff(bare) > 1) + 1)
    longest = max(gaps, key=len)
    return int(longest[len(longest) // 2]) % len(taken)


def _led(walk: Walk, loop: FloatArray, most: float) -> FloatArray:
    """A loop with a quarter turn on to the wall and one away from it, begun near. On the way on it
    meets no more than that, and off it nothing."""
    radius, length = walk.near.radius, length_of(loop)
    spots = np.arange(0.0, length, max(radius / 2.0, length / 400.0))
    places = places_on(loop, spots)
    nearest = np.argsort(np.hypot(*(places - walk.at.place).T), kind="stable")
    after = walk.near.copy()
    after.sweep(loop)
    for share in LEADS:
        for row in nearest:
            begun = starting_at(loop, float(spots[row]))
            over = stretch(begun, 0.0, min(ALLOWANCES.lead_overlap, length / 4.0))[1:]
            on, off = _quarters(np.vstack([begun, over]), share * radius)
            held = walk.room.holds(on) and walk.room.holds(off)
            if held and after.clear(_even(off, DENSE * radius)) and _comes_on(walk.near, on, most):
                return np.vstack([on, begun[1:], over, off[1:]])
    return loop


def _led_on(walk: Walk, piece: FloatArray, most: float) -> FloatArray:
    """A stretch of wall with a quarter turn on to it where it would begin in stock."""
    if walk.near.clear(piece[:1]):
        return piece
    for share in LEADS:
        on, _ = _quarters(piece, share * walk.near.radius)
        if walk.room.holds(on) and _comes_on(walk.near, on, most):
            return np.vstack([on, piece[1:]])
    return piece


def _comes_on(near: Near, on: FloatArray, most: float) -> bool:
    """Whether a way begins in air and meets no more than that."""
    if not near.clear(on[:1]):
        return False
    places = _even(on, DENSE * near.radius)
    return bool(near.beside(on).engaged(places, CHIP).max() <= most)


def _corners(walk: Walk, corners: list[Passes], most: float) -> None:
    """Through one corner after another, from the nearest on."""
    left = list(corners)
    while left:
        nearest = min(left, key=lambda corner: min(map(walk.apart, corner)))
        left = [corner for corner in left if corner is not nearest]
        _corner(walk, nearest, walk.cut, most)


def _corner(
    walk: Walk,
    passes: Passes,
    cut: Callable[[Kind, FloatArray], None],
    most: float,
) -> None:
    """The passes of a corner, each after the next wider one, straight back between them; of one so
    long and narrow that they would meet more than `most` only the first."""
    for arc in passes:
        if _takes(walk, arc):
            if _is_wide(walk, arc, most):
                return
            cut(Kind.WALL, arc)
            cut = walk.cut_straight


def _takes(walk: Walk, arc: FloatArray) -> bool:
    """Whether anything that can be measured stands in the way of an arc."""
    return bool(walk.near.copy().engaged(arc, SEEN).max(initial=0.0) > 0.0)


def _quarters(points: FloatArray, radius: float) -> tuple[FloatArray, FloatArray]:
    """Quarter turns to the left that end where a way begins and begin where it ends."""
    found = []
    for at, sign in ((Heading.at_start(points), -1.0), (Heading.at_end(points), 1.0)):
        left = np.array([-math.sin(at.angle), math.cos(at.angle)])
        angle = at.angle + np.linspace(0.0, 0.5 * math.pi, 17) * sign
        centre = at.place + radius * left
        found.append(centre + radius * np.column_stack([np.sin(angle), -np.cos(angle)]))
    return found[0][::-1], found[1]

"""Finishing a relief: passes over it in an order that keeps the cutter down.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, zip_longest

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.job.cusps import level_step
from toolpath.job.model import FinishBy, Relief, Shape
from toolpath.motion.moves import MoveTable
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.follow import Band, follow, walk_trail
from toolpath.plan.relief_edges import beside, foot_of, short_of, touching
from toolpath.plan.relief_left import Left
from toolpath.plan.relief_lines import contour_lines, ring_lines, wall_lines, waterlines
from toolpath.plan.relief_ridges import Ridges
from toolpath.plan.relief_starts import begun, closed, come_down, outer_ends
from toolpath.plan.relief_steps import OVER, stepped
from toolpath.plan.ridge_lines import lines_through
from toolpath.plan.route import Route
from toolpath.plan.stripes import Laid, parallel_lines
from toolpath.plan.target import Target

FloatArray = NDArray[np.float64]

MOST_TOLERANCE = 0.005
"""Paths lie at most this far above the lowest tips, mm; less where ridges are low."""
SHARE = 0.1
"""... and at most this share of the height of the ridges."""
RISE_STEP = 0.3
"""Passes over what is in the way lie at most this far apart, mm."""
_LINK = 4.0
"""Links that stay down are at most this many steps long, and at least the cutter's radius."""
_ROUNDS = 4
"""What is left too high is passed again at most so often."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Way:
    """One path (n, 3) and the link (m, 3) by which it is reached; None: by a lift."""

    path: FloatArray
    link: FloatArray | None


def finish(route: Route, cut: Relief, target: Target, within: BaseGeometry, left: Left) -> None:
    """All finishing passes of one cutter within an area; ends lifted."""
    band, even = band_of(cut), _even(cut, target)
    around = wall_lines(target, within)
    walls = follow(target, touching(target, around) if even else around, band, walls=True)
    foot = foot_of([path for each in walls for path in each]) if even else Polygon()
    passes = follow(target, _lines(cut, target, within, foot), band)
    passes = [short_of(each, foot, target.cutter, cut.cusp) for each in passes]
    most = _longest_link(target, band)
    ends = outer_ends(passes)
    walls = [[begun(path, target, left, ends, most) for path in each] for each in walls]
    route.lift()
    for group in (walls, passes, *_again(target, [*walls, *passes], within, left)):
        walk_all(route, target, group, left, band)
    route.lift()


def _again(
    target: Target, laid: list[list[FloatArray]], within: BaseGeometry, left: Left
) -> list[list[list[FloatArray]]]:
    """Passes over what those laid leave too high, and over what these leave, some times over."""
    found: list[list[list[FloatArray]]] = []
    ridges = None if _even(left.cut, target) else Ridges.of(left, target, within)
    if ridges is None:
        return found
    band = band_of(left.cut)
    ridges.after([path for each in laid for path in each])
    for _ in range(_ROUNDS):
        tips = ridges.tips()
        lines = lines_through(tips.xy, tips.apart)
        if not lines:
            break
        found.append(follow(target, lines, band, walls=True))
        ridges.after([path for each in found[-1] for path in each])
    return [[each for group in found for each in group]]


def _even(cut: Relief, target: Target) -> bool:
    """Whether passes leave ridges of one height by the way in which they are laid: a ball's lie as
    far apart as the slope between them asks, and run as far as those round walls do."""
    return cut.finish_by is FinishBy.PARALLEL and target.cutter.shape is Shape.BALL


def walk_all(
    route: Route, target: Target, groups: list[list[FloatArray]], left: Left, band: Band
) -> None:
    """Along paths (n, 3) of the tip, with links that stay down where they are short; what
    stands too thick is gone along higher up first."""
    paths = [path for each in groups for path in each]
    ways = _ways(target, paths, band, route)
    deep = left.deeper(route.cutter.stepdown + OVER)
    for way, after in zip_longest(ways, ways[1:]):
        done = len(route.moves)
        high = stepped(way.path, left, route.cutter, deep) if deep else []
        for path in high:
            _walk(route, _Way(path=path, link=None), left, band, last=True)
            done = _taken(route, left, done)
        way = replace(way, link=None) if high else way
        _walk(route, way, left, band, last=after is None or after.link is None)
        if deep:
            _taken(route, left, done)


def _taken(route: Route, left: Left, done: int) -> int:
    """What the moves since took; how many there are now."""
    left.after(MoveTable.of(route.moves[done:]), route.cutter)
    return len(route.moves)


def band_of(cut: Relief) -> Band:
    """Between which heights the finishing paths of a relief lie."""
    tolerance = min(MOST_TOLERANCE, SHARE * cut.cusp)
    return Band(floor=-cut.depth, top=-cut.below, tolerance=tolerance)


def _lines(
    cut: Relief, target: Target, within: BaseGeometry, foot: BaseGeometry
) -> list[FloatArray]:
    """The passes of a relief in plan, and those round what is steep; `foot`: where its walls were
    gone round."""
    if cut.finish_by is FinishBy.PARALLEL:
        laid = Laid(angle=cut.angle, cusp=cut.cusp, least=RISE_STEP, foot=foot)
        found = parallel_lines(target, within, laid)
        found = beside(found, foot, target.cutter.radius)
    elif cut.finish_by is FinishBy.RINGS:
        found = ring_lines(target, within, cut.cusp, RISE_STEP)
    else:
        found = contour_lines(target, within, cut.cusp, RISE_STEP)
    return [*found, *waterlines(target, within, cut.cusp)]


def _ways(target: Target, paths: Sequence[FloatArray], band: Band, route: Route) -> list[_Way]:
    """Paths in the order in which they are walked, turned round if that is nearer, with links."""
    if not paths:
        return []
    ordered = _in_order(paths, route.at[:2])
    most = _longest_link(target, band)
    down = bool(route.moves) and route.at[2] < band.top
    start = [np.array([route.at])] if down else []
    gaps = [np.vstack([a[-1, :2], b[0, :2]]) for a, b in pairwise([*start, *ordered])]
    short = [
        i
        for i, gap in enumerate(gaps)
        if np.hypot(*(gap[1] - gap[0])) <= most and target.roam.covers(LineString(gap))
    ]
    apart = [i for i in short if np.hypot(*(gaps[i][1] - gaps[i][0])) > ALLOWANCES.same]
    open_ = Band(floor=band.floor, top=math.inf, tolerance=band.tolerance)
    links = follow(target, [gaps[i] for i in apart], open_, walls=True)
    known: dict[int, FloatArray] = {i: np.empty((0, 3)) for i in short}
    for i, found in zip(apart, links, strict=True):
        if len(found) == 1:
            known[i] = found[0]
    first = 0 if down else 1
    return [_Way(path=path, link=known.get(i - first)) for i, path in enumerate(ordered)]


def _longest_link(target: Target, band: Band) -> float:
    """How long a link that stays down may be, mm."""
    step = level_step(target.cutter, 2.0 * band.tolerance / SHARE)
    return max(_LINK * step, target.cutter.radius)


def _in_order(paths: Sequence[FloatArray], start: tuple[float, float]) -> list[FloatArray]:
    """Always the path with the nearest end, taken from there."""
    ends = np.array([[path[0, :2], path[-1, :2]] for path in paths])
    left = np.ones(len(paths), dtype=np.bool_)
    at, found = np.array(start), []
    for _ in paths:
        which = np.flatnonzero(left)
        away = np.hypot(*np.moveaxis(ends[which] - at, 2, 0))
        nearest = int(away.argmin())
        chosen, turned = int(which[nearest // 2]), nearest % 2 == 1
        left[chosen] = False
        found.append(paths[chosen][::-1] if turned else paths[chosen])
        at = found[-1][-1, :2]
    return found


def _walk(route: Route, way: _Way, left: Left, band: Band, *, last: bool) -> None:
    """`last`: a lift follows, so that a closed path may end anywhere."""
    path = way.path
    if way.link is None:
        path = come_down(route, way.path, left, turned=last and closed(path))
    elif len(way.link):
        walk_trail(route, way.link, band.tolerance)
    walk_trail(route, path, band.tolerance)

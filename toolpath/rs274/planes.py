"""The three planes of arcs and drilling cycles (NISTIR 6556, 3.5.3 and 3.5.5), and arcs in chords.

Frame: that of the program, millimetres. In each plane the first axis turns counter-clockwise into
the second, seen from the positive end of the third.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from toolpath.motion.moves import Point
from toolpath.rs274.arcs import Arc
from toolpath.tolerances import TOLERANCES

Pair = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """A plane by the numbers of its axes (x 0, y 1, z 2); `words` and `normal_word` are their
    letters, `centre_words` those of an arc's centre, `arc_words` all that an arc may have."""

    name: str
    words: tuple[str, str]
    normal_word: str
    first: int
    second: int
    normal: int
    centre_words: tuple[str, str]
    arc_words: frozenset[str]

    def flat(self, place: Point) -> Pair:
        """A place seen in the plane."""
        return place[self.first], place[self.second]

    def place(self, flat: Pair, level: float) -> Point:
        """The place over `flat` at `level` along the third axis."""
        found = [level, level, level]
        found[self.first], found[self.second] = flat
        return found[0], found[1], found[2]


def _plane(first: int, second: int, normal: int) -> Plane:
    centre = "IJK"[first], "IJK"[second]
    return Plane(
        name="".join(sorted("XYZ"[first] + "XYZ"[second])),
        words=("XYZ"[first], "XYZ"[second]),
        normal_word="XYZ"[normal],
        first=first,
        second=second,
        normal=normal,
        centre_words=centre,
        arc_words=frozenset(("X", "Y", "Z", "R", *centre)),
    )


XY, ZX, YZ = _plane(0, 1, 2), _plane(2, 0, 1), _plane(1, 2, 0)

PLANES: Mapping[int, Plane] = {170: XY, 180: ZX, 190: YZ}
"""Planes by ten times their G code."""


def chords(plane: Plane, start: Point, end: Point, arc: Arc) -> Iterator[Point]:
    """Ends of straight moves that keep within `TOLERANCES.arc_chord` of an arc or helix.

    Linear steps of a path stray from it by at most its second derivative times the step squared
    over 8 (a theorem of calculus); that derivative is the radius, and twice what the radius
    changes a radian. The last end is `end` itself. They are made as they are asked for.
    """
    a, b = plane.flat(start)
    from_centre = (a - arc.centre[0], b - arc.centre[1])
    first = math.hypot(*from_centre)
    last = math.dist(plane.flat(end), arc.centre)
    bend = max(first, last) + 2.0 * abs(last - first) / abs(arc.sweep)
    count = math.ceil(abs(arc.sweep) * math.sqrt(bend / (8.0 * TOLERANCES.arc_chord))) or 1
    angle = math.atan2(from_centre[1], from_centre[0])
    low, high = start[plane.normal], end[plane.normal]
    for step in range(1, count):
        part = step / count
        radius, turned = first + (last - first) * part, angle + arc.sweep * part
        flat = (
            arc.centre[0] + radius * math.cos(turned),
            arc.centre[1] + radius * math.sin(turned),
        )
        yield plane.place(flat, low + (high - low) * part)
    yield end

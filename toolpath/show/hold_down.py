"""Holding and touching off: where nothing may stand, what holds a blank with open cavities below,
where to set the height of a cutter.

The advice on holding is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
import shapely.ops
from shapely.geometry.base import BaseGeometry

from toolpath.blank.uneven import heights_at
from toolpath.job.model import Cut, Job, Side, Skim
from toolpath.show.areas import blank_area, clamp_area, cut_area, whole_area
from toolpath.show.pieces import grown_footprint
from toolpath.show.plan_data import cuts_of
from toolpath.show.scene import Scene
from toolpath.show.seen import Seen, seen_from
from toolpath.show.words import SIDE_WORDS, Lengths

_TOUCH_ROOM = (10.0, 6.0, 3.0)
"""Room in mm round a place to touch off on, the roomiest that there is."""
_OFF_ZERO = 25.0
"""How far from the zero, mm: its mark and whatever finds it are in the way nearer by."""
_THIN = 12.0
"""A floor thinner than this, mm, over an open cavity is worth a support."""
_OPEN_LITTLE = 0.005
"""A share of the lower face that is not worth a word."""
_ON_CORNER = 12.0
"""How near a clamp may come to the zero, mm, before an edge finder has no room."""


def no_go(job: Job, side: Side) -> BaseGeometry:
    """Where nothing may stand while a face is cut, blank frame: its cuts with the room that the
    collet nut and the clearance need round them."""
    areas = [whole_area(cut) for cut in job.cuts if cut.face is side]
    cutters = [c.diameter for cut in job.cuts for c in cut.cutters]
    reach = max([job.machine.nut.widest, *cutters]) / 2.0 + job.check.clearance
    return shapely.buffer(shapely.union_all(areas), reach) if areas else shapely.Polygon()


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """A place to touch off on, as seen from the zero of a face, and the Z to set there, mm: not 0
    where the face was measured (`surface`) and does not lie at its Z 0."""

    x: float
    y: float
    z: float = 0.0
    reckoned: bool = False
    """Whether its height is reckoned from places measured elsewhere."""

    @property
    def at(self) -> tuple[float, float]:
        """X and Y."""
        return self.x, self.y


def touch_off(scene: Scene, side: Side) -> Touch | None:
    """A place to touch off on near the zero of a face: uncut on both faces but for skims, not above
    a piece, not under a clamp or the nut beside it; one that was measured if one is free. None
    where there is none."""
    job = scene.job_of(side)
    busy = [whole_area(cut) for cut in job.cuts if not isinstance(cut, Skim)]
    busy += [grown_footprint(piece) for piece in job.pieces]
    room = job.machine.nut.widest / 2.0 + job.check.clearance
    busy += [shapely.buffer(clamp_area(c), room) for c in job.clamps if c.face is side]
    seen, found = seen_from(job, side), None
    for margin in _TOUCH_ROOM:
        taken = shapely.union_all(shapely.buffer(busy, margin))  # one by one: quick for thousands
        inner = seen.geometry(shapely.buffer(blank_area(job.blank), -margin).difference(taken))
        inner = inner.difference(shapely.Point(0.0, 0.0).buffer(_OFF_ZERO))
        if measured := _measured(job, side, seen, inner):
            return measured
        if found is None and not inner.is_empty:
            x, y = shapely.get_coordinates(shapely.shortest_line(shapely.Point(0, 0), inner))[1]
            found = Touch(x=float(x), y=float(y))
    return found if found is None or side not in job.surfaces else _reckoned(job, side, seen, found)


def _measured(job: Job, side: Side, seen: Seen, free: BaseGeometry) -> Touch | None:
    """Of the places where a face was measured the one in a free area that is nearest to zero."""
    surface = job.surfaces.get(side)
    if surface is None:
        return None
    spots = seen.xy(np.array(surface.places))
    good = [i for i, spot in enumerate(spots) if free.intersects(shapely.Point(spot))]
    if not good:
        return None
    best = min(good, key=lambda i: float(np.hypot(*spots[i])))
    return Touch(x=float(spots[best, 0]), y=float(spots[best, 1]), z=surface.heights[best])


def _reckoned(job: Job, side: Side, seen: Seen, touch: Touch) -> Touch:
    """With the height of a measured face there."""
    spot = (np.array(touch.at) - seen.shift) * seen.mirror
    height = heights_at(job.surfaces[side], spot[None, :])[0]
    return replace(touch, z=float(height), reckoned=True)


def over_zero(job: Job, side: Side) -> tuple[str, ...]:
    """Clamps of a face that cover its zero, or leave no room to find it."""
    zero, seen = shapely.Point(0.0, 0.0), seen_from(job, side)
    return tuple(
        clamp.name
        for clamp in job.clamps
        if clamp.face is side and seen.geometry(clamp_area(clamp)).distance(zero) < _ON_CORNER
    )


def holding(scene: Scene, side: Side, lengths: Lengths) -> tuple[str, ...]:
    """What to mind when the face on the bed has been cut open; empty for the first set-up."""
    job = scene.job_of(side)
    faces = list(dict.fromkeys(program.face for program in scene.programs))
    if faces[:1] == [side]:
        return ()
    cuts = [view.planned.cut for f in faces if f is not side for view in cuts_of(scene, f)]
    below = [cut for cut in cuts if not isinstance(cut, Skim)]
    whole = blank_area(job.blank)
    open_area = shapely.union_all([whole_area(cut) for cut in below]).intersection(whole)
    share = open_area.area / whole.area
    if share < _OPEN_LITTLE:
        return ()
    down = SIDE_WORDS[below[0].face]
    words = [
        f"{share:.0%} of the {down} face, now on the bed, is open: tape or vacuum holds only on "
        "what is left of it, so keep tape off the cavities, and trust clamps or screws first."
    ]
    thin = _thin_floors(job, side, below, lengths)
    if thin:
        words.append(
            f"Thin floors over cavities: {'; '.join(thin)}. Put a snug block or packing under "
            "them, level with the face, before you cut over them; never clamp down on them."
        )
    words.append("The manual of the machine and of its clamps comes before this.")
    return tuple(words)


def _thin_floors(job: Job, side: Side, below: Sequence[Cut], lengths: Lengths) -> list[str]:
    """Floors that stay over a cavity below, those that a cut of this face makes thinner too."""
    above = [cut for cut in job.cuts if cut.face is side and not cut.through]
    found: dict[str, float] = {}
    for cavity in below:
        if cavity.through or cavity.depth >= job.blank.thickness:
            continue
        area = cut_area(cavity)
        over = [c.depth for c in above if shapely.intersects(cut_area(c), area)]
        left = job.blank.thickness - cavity.depth - max(over, default=0.0)
        if 0.0 < left < _THIN:
            found[cavity.name] = left
    least = sorted(found.items(), key=lambda item: item[1])[:4]
    return [f"{name}, {lengths.show(left)}" for name, left in least]

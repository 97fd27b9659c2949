"""The tabs of a profile: how high, where on each of its loops, and what is said of them.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.errors import EntryError
from toolpath.job.model import Job, Profile, ProfileSide, Tabs
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.away import Away, holds_material
from toolpath.plan.circuit import Circuit
from toolpath.plan.footing import Footing
from toolpath.plan.hops import Hops
from toolpath.plan.tabs import TabSize, choose_tabs, hops_over
from toolpath.units import show_mm

FloatArray = NDArray[np.float64]

NEAR = 0.01
"""A tab belongs to every loop this near to its middle, and to rough loops beside it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bridges:
    """The tabs of all loops of a profile: `spots` (k, 2) their middles on the loops along the
    walls; `size` None for none. `away` is what they were kept from."""

    size: TabSize | None
    spots: FloatArray = field(repr=False)
    reach: float
    away: Away
    notes: tuple[str, ...] = ()

    @classmethod
    def on(cls, job: Job, cut: Profile, walls: tuple[Circuit, ...]) -> Bridges:
        """As many on each loop that holds material as the cut asks for, or as there is room for.

        Raises
        ------
        EntryError
            There is no room for a single one on a loop.
        """
        away = _away(job, cut, walls)
        if cut.tabs is None:
            return cls(size=None, spots=np.empty((0, 2)), reach=0.0, away=away)
        footing = Footing.along(job, cut, walls)
        refusal: EntryError | None = None
        for bottom, crossed in footing.choices(cut.tabs.height, -cut.depth):
            try:
                return cls._standing(cut, walls, away, (footing, bottom, crossed))
            except EntryError as error:
                refusal = refusal or error
        assert refusal is not None
        raise refusal

    @classmethod
    def _standing(
        cls,
        cut: Profile,
        walls: tuple[Circuit, ...],
        away: Away,
        on: tuple[Footing, float, BaseGeometry],
    ) -> Bridges:
        """The tabs in material that begins at a height, beside an area."""
        (footing, bottom, crossed), tabs = on, cut.tabs
        assert tabs is not None
        size = tab_size(cut, tabs, bottom)
        _require_height(cut, tabs, max(bottom, -cut.depth), footing.top)
        taken = shapely.union(away.taken, crossed)
        spots, notes = [], []
        for wall in walls:
            if holds_material(wall.points(0.5), cut.cutter.radius):
                others = [loop.points(1.0) for loop in walls if loop is not wall]
                beside = np.concatenate([np.empty((0, 2)), *others])
                found = choose_tabs(wall, size, tabs.count, taken, beside)
                if not len(found):
                    raise EntryError(_none_fits(cut, wall, size))
                spots.append(wall.at(found))
                if len(found) < tabs.count:
                    notes.append(_fewer(tabs, wall, len(found)))
        return cls(
            size=size,
            spots=np.concatenate([np.empty((0, 2)), *spots]),
            reach=NEAR + 3.0 * size.leave,
            away=away,
            notes=tuple(notes),
        )

    @property
    def middles(self) -> tuple[tuple[float, float], ...]:
        """The middles of all tabs."""
        return tuple((float(x), float(y)) for x, y in self.spots)

    def over(self, loop: Circuit) -> Hops | None:
        """The hops of a loop over all tabs that lie on it or beside it; None for none."""
        if self.size is None:
            return None
        places = np.array([loop.nearest(spot) for spot in self.spots])
        apart = np.hypot(*(loop.at(places) - self.spots).T)
        near = apart <= self.reach
        if not near.any():
            return None
        on_wall = bool((apart[near] <= NEAR).all())
        return hops_over(loop, self.size if on_wall else self.size.wider, np.sort(places[near]))


def tab_size(cut: Profile, tabs: Tabs, bottom: float) -> TabSize:
    """The top of a tab is measured from where the material of the thinnest blank begins (`bottom`,
    page frame), or from the floor of a cut that stays above it."""
    top = min(max(bottom, -cut.depth) + tabs.height, -cut.below + ALLOWANCES.ramp_above_face)
    leave = 0.0 if cut.side is ProfileSide.CENTRE else cut.finish
    return TabSize(
        chord=tabs.width + cut.cutter.diameter,
        top=top,
        floor=-cut.depth,
        fall=ALLOWANCES.slope * math.tan(cut.cutter.ramp),
        open=cut.cutter.radius,
        radius=cut.cutter.radius,
        leave=leave,
        blend=2.0 * blend_length(cut) if leave > 0.0 else 0.0,
    )


def blend_length(cut: Profile) -> float:
    """The run along a loop on which the last pass comes over to the wall, and on which it leaves
    it again, with what it overlaps; short and yet nearly a tangent."""
    return max(cut.cutter.diameter, 10.0 * cut.finish) + ALLOWANCES.lead_overlap


def _require_height(cut: Profile, tabs: Tabs, bottom: float, top: float) -> None:
    """Tabs higher than the material are none."""
    if bottom + tabs.height > top + ALLOWANCES.same:
        raise EntryError(
            f'cut "{cut.name}": tabs {show_mm(tabs.height)} high do not fit: of the thinnest blank '
            f"{show_mm(max(top - bottom, 0.0))} are left along the outline once both faces are "
            "cut: make them lower, or cut less away from the faces there"
        )


def _away(job: Job, cut: Profile, walls: tuple[Circuit, ...]) -> Away:
    points = np.concatenate([wall.points(1.0) for wall in walls])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    near = (float(x0), float(y0), float(x1), float(y1))
    return Away.of(job, cut.face, cut.cutter, near)


def _middle(wall: Circuit) -> str:
    points = wall.points(1.0)
    x, y = (points.min(axis=0) + points.max(axis=0)) / 2.0
    return f"X {show_mm(float(x))}, Y {show_mm(float(y))}"


def _fewer(tabs: Tabs, wall: Circuit, made: int) -> str:
    return (
        f"{made} of {tabs.count} tabs fit round {_middle(wall)}: for more use narrower or lower "
        "tabs, a thinner cutter or one with a steeper ramp"
    )


def _none_fits(cut: Profile, wall: Circuit, size: TabSize) -> str:
    return (
        f'cut "{cut.name}": no tab fits round {_middle(wall)}: each needs '
        f"{show_mm(size.spacing + size.blend)} along the path, {show_mm(size.chord)} of it clear "
        f"of corners, pieces and clamps, and the path is {show_mm(wall.length)} long: use "
        "narrower or lower tabs, a thinner cutter or one with a steeper ramp, or clear small holes "
        "as pockets"
    )

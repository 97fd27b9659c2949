"""What cuts leave in their cavities, in words: for the picture and the sheet.

Places are X and Y as the machine shows them with that face up.
"""

from __future__ import annotations

from dataclasses import dataclass

from toolpath.check.left import Spot, Why
from toolpath.job.model import Side
from toolpath.show.plan_data import cuts_of
from toolpath.show.scene import Scene
from toolpath.show.seen import seen_from
from toolpath.show.words import Lengths, shorten

MOST_ROWS = 24
"""As many places of a face are listed one by one, the largest of each cut first."""

_WHY = {
    Why.CORNER: "corner smaller than the cutter",
    Why.CHANNEL: "channel too narrow for the cutter",
    Why.PIECE: "over or round",
    Why.CLAMP: "beside",
    Why.STANDING: "within reach of the cutter, not cut",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftRow:
    """One place: its `mark` in the picture, where it is in the blank frame and on the machine, how
    large, why, and what would take it; lengths in words."""

    mark: str
    cut: str
    at: tuple[float, float]
    x: str
    y: str
    area: str
    width: str
    height: str
    why: str
    mend: str


def left_rows(scene: Scene, side: Side) -> tuple[LeftRow, ...]:
    """The places of a face that are listed, cut by cut in cutting order."""
    every = _of_face(scene, side)
    fair = max(3, MOST_ROWS // max(1, len({spot.cut for spot in every})))
    kept: list[Spot] = []
    for name in dict.fromkeys(spot.cut for spot in every):
        kept += [spot for spot in every if spot.cut == name][:fair]
    return tuple(_row(scene, side, spot, number) for number, spot in enumerate(kept[:MOST_ROWS], 1))


def left_more(scene: Scene, side: Side) -> str:
    """The places of a face that are not listed, in words; empty where all are."""
    rest = len(_of_face(scene, side)) - len(left_rows(scene, side))
    if rest <= 0:
        return ""
    area = sum(spot.area for spot in _of_face(scene, side))
    lengths = Lengths(unit=scene.job.unit)
    places = "place" if rest == 1 else "places"
    return f"and {rest} more {places}, {lengths.area(area)} in all: see plan.json"


def _of_face(scene: Scene, side: Side) -> list[Spot]:
    names = list(dict.fromkeys(view.planned.cut.name for view in cuts_of(scene, side)))
    return [spot for name in names for spot in scene.left if spot.cut == name]


def _row(scene: Scene, side: Side, spot: Spot, number: int) -> LeftRow:
    lengths = Lengths(unit=scene.job.unit)
    x, y = seen_from(scene.job_of(side), side).point(*spot.at)
    of = f" {shorten(spot.of, 28)}" if spot.of else ""
    return LeftRow(
        mark=str(number),
        cut=spot.cut,
        at=spot.at,
        x=lengths.bare(x),
        y=lengths.bare(y),
        area=lengths.fine_area(spot.area),
        width=lengths.short(spot.width),
        height=lengths.short(spot.height),
        why=f"{_WHY[spot.why]}{of}",
        mend=_mend(spot, lengths),
    )


def _mend(spot: Spot, lengths: Lengths) -> str:
    """What would take it."""
    if spot.diameter is None:
        mends = {Why.PIECE: "no cutter", Why.CLAMP: "move the clamp", Why.STANDING: "plan again"}
        return mends.get(spot.why, "")
    if spot.cutter:
        return f'"{shorten(spot.cutter, 20)}" takes {_SHARE_WORDS}'
    if spot.diameter < _LEAST:
        return f"a cutter under {lengths.short(_LEAST)}, or a chisel"
    return f"a flat cutter of {lengths.short_gap(spot.diameter)} takes {_SHARE_WORDS}"


_SHARE_WORDS = "nine tenths"
_LEAST = 0.5
"""Thinner cutters than this, mm, are rare (common practice, no source)."""

"""Cuts that a job has begin below the face, since what lies above them was cut before."""

from __future__ import annotations

import shapely

from toolpath.check.areas import kerf
from toolpath.job.model import Cut, Cutter, Job, Side
from toolpath.units import Unit, show_mm


def begun_below(job: Job, side: Side, cutter: Cutter) -> tuple[Cut, ...]:
    """The cuts of a face that a cutter works at and that begin below it."""
    return tuple(
        cut
        for cut in job.cuts
        if cut.face is side
        and cut.below > 0.0
        and cutter.name in {each.name for each in cut.cutters}
    )


def lift_words(begun: tuple[Cut, ...], at: tuple[float, float], cutter: Cutter, unit: Unit) -> str:
    """What to do where a rapid enters stock at a place in plan, blank frame: lift, or, where a cut
    that begins below the face lies within a cutter's width, say that it begins higher."""
    near = shapely.Point(at).buffer(cutter.diameter)
    for cut in begun:
        if any(area.intersects(near) for area, _ in kerf(cut)):
            return (
                f'say below = 0 on the cut "{cut.name}", or less than {show_mm(cut.below, unit)}: '
                "what lies above it was not cut before; or cut that first; in a program of your "
                "own, lift above the stock first, or feed here"
            )
    return "lift above the stock first, or feed here"

"""What the sheet says about register pins: where they stand and how to turn over on them."""

from __future__ import annotations

from toolpath.blank.lying import thinnest_up
from toolpath.job.model import Drill, Job, Side, TurnOver
from toolpath.show.scene import Scene
from toolpath.show.seen import seen_from
from toolpath.show.words import Lengths

_LINE = {TurnOver.LEFT_RIGHT: "near to far", TurnOver.TOP_BOTTOM: "left to right"}


def pin_words(scene: Scene, side: Side, lengths: Lengths) -> tuple[str, ...]:
    """The lines about pins for the set-up of a face; empty for a job without pins."""
    job = scene.job_of(side)
    if job.pins is None:
        return ()
    first = scene.programs[0].face if scene.programs else Side.FRONT
    places = "; ".join(_at(job, side, spot, lengths) for spot in job.pins.at)
    mark = _at(job, side, job.pins.mark, lengths)
    size = lengths.show(job.pins.diameter)
    if side is first:
        return (
            f"Two pins of {size} will hold the place when the blank is turned over. This set-up "
            f"drills their holes at {places}, through the blank and {_into_board(scene, lengths)} "
            "into the board: do not move the board until both faces are done.",
            f"It also drills the odd mark, at {mark}.",
        )
    run = _LINE[job.blank.turn_over]
    return (
        f"Press both pins ({size}) into the holes in the board, {places}; they stand on the "
        f"turning line, which runs {run}. Turn the blank over on them: it goes down without force."
        f"{_below_the_skim(job, side, lengths)}",
        f"The odd mark now lies at {mark}. If it does not, the blank is turned the wrong way: "
        "stop.",
        "X and Y zero may stay as they are only if nothing was moved: prove it on the mark.",
    )


def _below_the_skim(job: Job, side: Side, lengths: Lengths) -> str:
    """How far pins may stand up where the face is skimmed with them in their holes."""
    if not job.skimmed(side):
        return ""
    most = thinnest_up(job, side) - job.skimmed(side)
    return (
        f" This face is skimmed: above the board the pins must be shorter than {lengths.show(most)}"
        ", or the cutter meets them."
    )


def _at(job: Job, side: Side, spot: tuple[float, float], lengths: Lengths) -> str:
    x, y = seen_from(job, side).point(*spot)
    return f"X {lengths.bare(x)} Y {lengths.bare(y)}"


def _into_board(scene: Scene, lengths: Lengths) -> str:
    """How deep the holes of the pins go into the board below the blank."""
    job = scene.job
    depths = [cut.depth for cut in job.cuts if isinstance(cut, Drill) and cut.pins]
    if not depths:
        return "on"
    return lengths.show(max(max(depths) - job.blank.thickness, 0.0))

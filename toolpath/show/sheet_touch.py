"""What the sheet says of touching off: the height to set, on the face as it is and once skimmed."""

from __future__ import annotations

from toolpath.job.model import Job, Side, Skim
from toolpath.show.hold_down import Touch
from toolpath.show.scene import ProgramView
from toolpath.show.words import Lengths


def free_words(job: Job, side: Side) -> str:
    """What cuts the place to touch off on: nothing, or skims alone."""
    return "only the skim cuts there" if job.skimmed(side) else "it stays uncut"


def touch_z(job: Job, side: Side, touch: Touch | None, lengths: Lengths) -> str:
    """The Z to set where a cutter is touched off."""
    if touch is None:
        return "as you measured it (surface)" if side in job.surfaces else "0"
    return lengths.bare(touch.z)


def touch_why(job: Job, side: Side, touch: Touch | None, lengths: Lengths) -> str:
    """Why that need not be 0; empty where nobody measured the face."""
    if touch is None or side not in job.surfaces:
        return ""
    by = f"{lengths.show(abs(touch.z))} {'above' if touch.z > 0.0 else 'below'} Z 0"
    if touch.reckoned:
        return f"{by} as reckoned between the places measured (surface): measure it there, too"
    return f"{by} as you measured it (surface)"


def after_skims(
    job: Job, programs: tuple[ProgramView, ...], touch: Touch | None, lengths: Lengths
) -> tuple[str, ...]:
    """The height to set when a later cutter is touched off on a face that was skimmed."""
    return tuple(
        f"After cut {view.number}, {view.planned.cut.name}, this face lies "
        f"{_new_face(job, view.planned.cut, touch, lengths)}"
        for program in programs
        for view in program.cuts
        if isinstance(view.planned.cut, Skim)
    )


def _new_face(job: Job, skim: Skim, touch: Touch | None, lengths: Lengths) -> str:
    """Where a face lies after a skim, and where to touch off on it: a measured face may lie lower
    than the skim goes."""
    z, deep = lengths.bare(-skim.depth), lengths.show(skim.depth)
    if skim.face not in job.surfaces:
        return f"{deep} lower: touch every later cutter off on the new face and set Z {z} there."
    reached = f"{deep} below its Z 0 where the skim cut it: touch every later cutter off "
    if touch is None:
        return f"{reached}at a place that the skim cut and set Z {z} there."
    at = f"at X {lengths.bare(touch.x)}, Y {lengths.bare(touch.y)} and set Z "
    if touch.z >= -skim.depth:
        return f"{reached}{at}{z} there."
    doubt = " (as reckoned: measure it there, too)" if touch.reckoned else ""
    return f"{reached}{at}{lengths.bare(touch.z)} there{doubt}: the skim does not reach that place."

"""Plates for ledges: the main job with pilots for their screws, and a job of its own for each.

A plate's outer, visible side lies up on its sheet. It is placed as one sees it in the blank with
that face up, so that a plate of the back is a mirror image of its ledge in the blank frame.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.frames import Frame, bounds_of
from toolpath.drawing.outline import Loop, Region
from toolpath.drawing.shapes import rect
from toolpath.errors import DrawingError, Fault, FaultsError
from toolpath.job.model import (
    Blank,
    Cut,
    Drill,
    Job,
    Plate,
    Pocket,
    Profile,
    ProfileSide,
    Side,
    Warned,
    Zero,
)
from toolpath.plan.blocked import standing_above_ledge
from toolpath.plan.screws import hole_diameter, pilots, screw_places
from toolpath.plan.seat import fitted_ledge, region_of, seat_of
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm, show_needed

FloatArray = NDArray[np.float64]
T = TypeVar("T")

BESIDE = 3.0
"""What stays of the sheet outside the cutter's lane round a plate, mm (common practice, no
source): for a clamp or a screw to hold on to."""

HOLES = "screw holes"
OUTLINE = "outline"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placing:
    """How a plate lies on its sheet: sheet = scale * blank + shift, x and y."""

    scale: FloatArray = field(repr=False)
    shift: FloatArray = field(repr=False)

    def spots(self, xy: FloatArray) -> FloatArray:
        """Places (n, 2) of the blank frame on the sheet."""
        return np.asarray(np.asarray(xy, dtype=np.float64) * self.scale + self.shift)

    def region(self, region: Region) -> Region:
        """A region without holes of the blank frame on the sheet; arcs turn over if mirrored."""
        points = region.outer.points
        bulge = points[:, 2] * float(np.prod(self.scale))
        placed = np.column_stack([self.spots(points[:, :2]), bulge])
        return Region(outer=Loop(points=placed, error=region.outer.error))


def with_fitted_ledges(job: Job) -> Job:
    """The job with the ledges of its plates rounded where the plates' cutters ask for it.

    Ledges that need it not stay exactly as drawn; where one was rounded a warning says so.

    Raises
    ------
    FaultsError
        Plates that are impossible, all of them.
    """
    fitted = _of_each(job, lambda plate: _fitted(job, plate))
    names = {cut.name: cut for cut in fitted}
    plates = zip(job.plates, fitted, strict=True)
    return replace(
        job,
        cuts=tuple(names.get(cut.name, cut) for cut in job.cuts),
        plates=tuple(replace(plate, cut=cut) for plate, cut in plates),
        warnings=(*job.warnings, *_roundings(job)),
    )


def _fitted(job: Job, plate: Plate) -> Pocket:
    """The cut of a plate with its ledge fitted, nothing standing up on which the plate would
    ride."""
    cut = replace(plate.cut, ledge=fitted_ledge(plate))
    names = standing_above_ledge(job, cut)
    if names:
        what = " and ".join(f'"{name}"' for name in names)
        raise DrawingError(
            f"what the cut leaves over {what} (if_blocked) stands higher than the ledge, so that a "
            "plate cannot lie there: move the ledge away from the piece, make it less deep, or do "
            "without the plate"
        )
    return cut


def with_plates(job: Job) -> Job:
    """The main job as it is to be planned: ledges fitted to their plates, and the pilots of each
    plate's screws right after its cut.

    Raises
    ------
    FaultsError
        Plates or screws that are impossible, all of them.
    """
    fitted = with_fitted_ledges(job)
    drilled = _of_each(fitted, lambda plate: pilots(fitted, plate) if plate.screws else None)
    after = dict(zip([plate.cut.name for plate in fitted.plates], drilled, strict=True))
    cuts: list[Cut] = []
    for cut in fitted.cuts:
        cuts.append(cut)
        holes = after.get(cut.name)
        cuts += [holes] if holes else []
    return replace(fitted, cuts=tuple(cuts))


def plate_jobs(job: Job) -> tuple[Job, ...]:
    """The jobs by which the plates are cut from their sheets, in their order: the screw holes
    first, the outline last.

    Raises
    ------
    FaultsError
        Plates that cannot be made, all of them.
    """
    return _of_each(job, lambda plate: _plate_job(job, plate))


def _of_each(job: Job, make: Callable[[Plate], T]) -> tuple[T, ...]:
    """Something of each plate; what is wrong with any of them becomes one fault of its own."""
    found: list[T] = []
    faults: list[Fault] = []
    for number, plate in enumerate(job.plates, start=1):
        try:
            found.append(make(plate))
        except DrawingError as error:
            where = f'plate[{number}] "{plate.cut.name}"'
            faults.append(Fault(file=job.file.name, where=where, message=str(error)))
    if faults:
        raise FaultsError(faults)
    return tuple(found)


def _roundings(job: Job) -> list[Warned]:
    found = []
    for number, plate in enumerate(job.plates, start=1):
        rounded = seat_of(plate).rounded
        if not rounded:
            continue
        show = job.unit
        places = ", ".join(
            f"x {show_mm(each.at[0], show)} y {show_mm(each.at[1], show)} "
            f"(up to {show_needed(each.by, show)} more is cut away)"
            for each in rounded
        )
        found.append(
            Warned(
                where=f'plate[{number}] "{plate.cut.name}"',
                message=f"the ledge is rounded at its inward corners, which the "
                f"{show_mm(plate.cutter.diameter, show)} cutter of the plate cannot cut sharp: "
                f"{places}; a thinner cutter for the plate rounds less",
            )
        )
    return found


def _plate_job(job: Job, plate: Plate) -> Job:
    placing = placing_of(job, plate)
    cuts: list[Cut] = [_outline(job, plate, placing)]
    if plate.screws is not None:
        cuts.insert(0, _holes(job, plate, placing))
    sheet = plate.sheet
    return replace(
        job,
        name=f"{job.name}: plate for {plate.cut.name}",
        blank=Blank(
            outline=rect(0.0, 0.0, *sheet.size),
            thickness=sheet.thickness,
            material=sheet.material,
        ),
        zero=dict.fromkeys(Side, Zero.LOWER_LEFT),
        check=replace(job.check, least_floor=0.0, least_wall=0.0),
        pieces=(),
        clamps=(),
        cuts=tuple(cuts),
        plates=(),
        pins=None,
        measured=None,
        surfaces={},
        warnings=(),
    )


def placing_of(job: Job, plate: Plate) -> Placing:
    """How a plate lies on its sheet: as seen with its face up, as near to the lower left corner
    as the cutter's lane and `BESIDE` allow.

    Raises
    ------
    DrawingError
        No plate can lie in the ledge, or the sheet is too small for it.
    """
    scale = np.array(Frame.of(job, plate.cut.face).scale)
    seen = Placing(scale=scale, shift=np.zeros(2)).region(region_of(seat_of(plate).plate))
    low, high = np.array(bounds_of(seen))
    beside = plate.cutter.diameter + BESIDE
    needed = high - low + 2.0 * beside
    if (needed > np.array(plate.sheet.size) + TOLERANCES.inside_blank).any():
        raise DrawingError(_sheet_too_small(job, plate, needed, high - low))
    return Placing(scale=scale, shift=beside - low)


def _sheet_too_small(job: Job, plate: Plate, needed: FloatArray, size: FloatArray) -> str:
    def show(pair: FloatArray | tuple[float, float]) -> str:
        return " by ".join(show_mm(float(value), job.unit) for value in pair)

    turned = bool((needed[::-1] <= np.array(plate.sheet.size)).all())
    mend = "swap its two numbers and lay it the other way round" if turned else "take a larger one"
    return (
        f"stock: size: a sheet of {show(plate.sheet.size)} is too small: the plate is "
        f"{show(size)}, and with {show_mm(plate.cutter.diameter + BESIDE, job.unit)} all round "
        f"for the cutter and a rim it takes {show(needed)}: {mend}"
    )


def _through(job: Job, plate: Plate) -> float:
    return plate.sheet.thickness + job.machine.spoilboard


def _outline(job: Job, plate: Plate, placing: Placing) -> Profile:
    """The plate cut out, held by its tabs or by a skin under it."""
    held_by_skin = plate.tabs is None and plate.skin > 0.0
    return Profile(
        name=OUTLINE,
        face=Side.FRONT,
        cutter=plate.cutter,
        depth=plate.sheet.thickness - plate.skin if held_by_skin else _through(job, plate),
        through=not held_by_skin,
        outline=(placing.region(region_of(seat_of(plate).plate)),),
        side=ProfileSide.OUTER,
        tabs=plate.tabs,
    )


def _holes(job: Job, plate: Plate, placing: Placing) -> Drill:
    """The holes for the screws, over the pilots; the plate's cutter bores what a drill does not."""
    screws = plate.screws
    assert screws is not None
    cutter = screws.hole or plate.cutter
    spots = placing.spots(np.array(screw_places(job, plate)))
    return Drill(
        name=HOLES,
        face=Side.FRONT,
        cutter=cutter,
        depth=_through(job, plate),
        through=True,
        at=tuple((float(x), float(y)) for x, y in spots),
        peck=cutter.diameter,
        diameter=hole_diameter(screws),
    )

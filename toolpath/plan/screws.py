"""Where the screws of a plate stand on its ledge, and the pilot holes for them.

Frame: x, y of the blank frame, millimetres. Pilots and the holes of the plate are made from the
same list of places, so they line up whichever face is up.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from toolpath.drawing.shapes import show_point
from toolpath.errors import DrawingError, InternalError
from toolpath.job.model import Drill, Job, Plate, Screws
from toolpath.plan.middle import Track, discs_at, room_at, roomiest, top_of, track_of
from toolpath.plan.seat import Seat, ledge_of, seat_of
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_left, show_mm, show_needed

FloatArray = NDArray[np.float64]
Place = tuple[float, float]

FINER = 41
"""Places between two spots in which the roomiest about a corner is looked for."""

DECIMALS = 3
"""Places are round thousandths of a millimetre."""


def screw_places(job: Job, plate: Plate) -> tuple[Place, ...]:
    """Where the screws of a plate stand, blank frame; none if it has no screws.

    Those given are checked, else they are spread along the middle of the ledge: on its corners
    first if there are enough for all of them, the others evenly between. Each keeps `edge` from
    the plate's edge and from the cavity, and all of them twice that from each other.

    Raises
    ------
    DrawingError
        There is no room for them; the message has the room that there is.
    """
    screws = plate.screws
    if screws is None:
        return ()
    seat = seat_of(plate)
    if screws.at:
        _check_given(job, seat, screws)
        return screws.at
    return _spread(job, seat, plate, screws)


def pilots(job: Job, plate: Plate) -> Drill:
    """The pilot holes in the ledge of a plate that has screws, as a cut of the main job.

    Raises
    ------
    DrawingError
        As `screw_places`.
    """
    screws = plate.screws
    if screws is None:
        raise InternalError(f'the plate for "{plate.cut.name}" has no screws to drill for')
    depth = ledge_of(plate.cut).depth
    return Drill(
        name=f"{plate.cut.name} pilots",
        face=plate.cut.face,
        cutter=screws.pilot,
        depth=depth + screws.depth,
        below=depth,
        at=screw_places(job, plate),
        peck=screws.pilot.diameter,
        diameter=screws.pilot.diameter,
    )


def hole_diameter(screws: Screws) -> float:
    """Of the holes in the plate, mm."""
    return screws.diameter + screws.slack


def _check_given(job: Job, seat: Seat, screws: Screws) -> None:
    unit, wrong = job.unit, []
    near = room_at(seat, np.array(screws.at))
    for i, (place, room) in enumerate(zip(screws.at, near, strict=True), start=1):
        if room < screws.edge - TOLERANCES.inside_blank:
            where = f"at[{i}] {show_point(*place)}"
            wrong.append(
                f"{where} is {show_left(float(room), unit)} from the edge of the plate or the "
                f"cavity, less than edge ({show_mm(screws.edge, unit)})"
                if room > 0.0
                else f"{where} is not on the ledge"
            )
    wrong += [
        f"at[{i}] and at[{j}] are {show_left(gap, unit)} apart, less than twice edge "
        f"({show_mm(2.0 * screws.edge, unit)})"
        for i, j, gap in _gaps(screws.at)
        if gap < 2.0 * screws.edge - TOLERANCES.inside_blank
    ]
    if wrong:
        raise DrawingError(
            f"screws: {'; '.join(wrong)}: move them, or take a smaller edge, or leave at out and "
            "give a count"
        )


def _gaps(places: tuple[Place, ...]) -> list[tuple[int, int, float]]:
    """Numbers, from 1, of each two places and how far they are apart."""
    pairs = combinations(enumerate(places, start=1), 2)
    return [(i, j, float(np.hypot(a[0] - b[0], a[1] - b[1]))) for (i, a), (j, b) in pairs]


def _spread(job: Job, seat: Seat, plate: Plate, screws: Screws) -> tuple[Place, ...]:
    widest = max(cutter.radius for cutter in plate.cut.cutters)
    track = track_of(seat, widest)
    good = np.flatnonzero(track.room >= screws.edge - TOLERANCES.inside_blank)
    if not good.size:
        raise DrawingError(_too_narrow(job, float(track.room.max()), screws))
    centres = _evenly(seat, track, good, screws)
    if _nearest(centres) < 2.0 * screws.edge - TOLERANCES.inside_blank:
        centres = _farthest(track.centre[good], screws.count)
    room = _nearest(centres)
    if room < 2.0 * screws.edge - TOLERANCES.inside_blank:
        raise DrawingError(_too_many(job, room, screws))
    return tuple((float(x), float(y)) for x, y in np.round(centres, DECIMALS))


def _evenly(seat: Seat, track: Track, good: NDArray[np.intp], screws: Screws) -> FloatArray:
    """(count, 2) places at corners first, the rest evenly between; each the nearest with room."""
    fixed = _corner_choice(seat, track, good, screws.edge)
    if not fixed or len(fixed) > screws.count:
        start = fixed[0] if fixed else top_of(seat)
        wanted = start + track.length * np.arange(screws.count) / screws.count
    else:
        wanted = np.sort([*fixed, *_between(fixed, track.length, screws.count - len(fixed))])
    centre, room = discs_at(seat, wanted)
    for i in np.flatnonzero(room < screws.edge - TOLERANCES.inside_blank):
        centre[i] = track.centre[good[np.argmin(track.apart(wanted[i])[good])]]
    return centre


def _between(fixed: list[float], length: float, count: int) -> list[float]:
    """`count` places more, each time dividing the stretch where the screws are farthest apart."""
    ends = np.append(fixed, fixed[0] + length)
    more = np.zeros(len(fixed), dtype=np.int64)
    for _ in range(count):
        more[int(np.argmax(np.round(np.diff(ends) / (more + 1), DECIMALS)))] += 1
    return [
        float(ends[i] + (ends[i + 1] - ends[i]) * k / (more[i] + 1))
        for i in range(len(fixed))
        for k in range(1, more[i] + 1)
    ]


def _corner_choice(seat: Seat, track: Track, good: NDArray[np.intp], edge: float) -> list[float]:
    """For each corner that has room the roomiest place about it, in order along the edge."""
    found: list[int] = []
    for corner in track.corners:
        apart = track.apart(track.along[corner])
        near = good[apart[good] <= np.median(track.room[good]) * 2.0 + 2.0 * edge]
        if near.size:
            best = near[track.room[near] >= track.room[near].max() - TOLERANCES.inside_blank]
            found.append(int(best[np.argmin(apart[best])]))
    step = track.length / len(track.along)
    fine = np.linspace(-step, step, FINER)
    return [roomiest(seat, track.along[row] + fine) for row in sorted(set(found))]


def _farthest(centre: FloatArray, count: int) -> FloatArray:
    """Each place the one farthest from those before it, where there is room only here and there."""
    rows = [0]
    away = np.hypot(*(centre - centre[0]).T)
    while len(rows) < count:
        rows.append(int(np.argmax(away)))
        away = np.minimum(away, np.hypot(*(centre - centre[rows[-1]]).T))
    return np.asarray(centre[sorted(rows)])


def _nearest(places: FloatArray) -> float:
    """The least distance between any two places; endless for one."""
    return min(
        (gap for _, _, gap in _gaps(tuple((float(x), float(y)) for x, y in places))),
        default=np.inf,
    )


def _too_narrow(job: Job, room: float, screws: Screws) -> str:
    unit = job.unit
    fits = room > hole_diameter(screws) / 2.0  # an edge must at least hold the hole
    less = f"an edge of at most {show_left(room, unit)}" if fits else "thinner screws"
    return (
        f"screws: no room on the ledge: between the plate's edge and the cavity it is at most "
        f"{show_left(2.0 * room, unit)} wide, and edge = {show_mm(screws.edge, unit)} on both "
        f"sides of a screw asks for {show_needed(2.0 * screws.edge, unit)}: widen the ledge, or "
        f"take {less}"
    )


def _too_many(job: Job, gap: float, screws: Screws) -> str:
    unit = job.unit
    return (
        f"screws: no room for {screws.count}: where the ledge is wide enough the nearest two would "
        f"stand {show_left(gap, unit)} apart, less than twice edge "
        f"({show_mm(2.0 * screws.edge, unit)}): take fewer, or widen the ledge"
    )

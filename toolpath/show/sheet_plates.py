"""What the sheet says about plates: one set-up page for each, cut from its own sheet."""

from __future__ import annotations

from dataclasses import dataclass

from toolpath.job.model import Drill, Job, Plate, Side, Zero
from toolpath.plan.screws import screw_places
from toolpath.plan.seat import lies, seat_of
from toolpath.show.pictures import plate_picture
from toolpath.show.plan_data import cuts_of
from toolpath.show.scene import Scene
from toolpath.show.seen import seen_from
from toolpath.show.words import ZERO_WORDS, Lengths, duration

_FLUSH = 0.005
"""What counts as no step between plate and face, mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatePage:
    """The words of a plate's page; `facts` are label and value, `picture` a file name."""

    name: str
    facts: tuple[tuple[str, str], ...]
    screws: tuple[tuple[str, str], ...]
    programs: tuple[tuple[str, str, str, str], ...]
    """File, cutter, time and short code."""
    picture: str


def plate_pages(scene: Scene, lengths: Lengths) -> tuple[PlatePage, ...]:
    """One page for each plate of a job."""
    return tuple(
        _page(scene.job, each, each.plate, lengths)
        for each in scene.plates
        if each.plate is not None
    )


def _page(job: Job, scene: Scene, plate: Plate, lengths: Lengths) -> PlatePage:
    sheet = plate.sheet
    facts = [
        ("sheet, at least", f"{lengths.show(sheet.size[0])} × {lengths.show(sheet.size[1])}"),
        ("thickness planned", lengths.show(sheet.thickness)),
        ("material", sheet.material or "as you have it"),
        ("plate as cut", _size(plate, lengths)),
        ("gap to the ledge, each side", lengths.show(plate.gap)),
        ("in its ledge it lies", _step(job, plate, lengths)),
        ("held by", _held(plate, lengths)),
        ("X and Y zero", ZERO_WORDS[scene.job.zero.get(Side.FRONT, Zero.LOWER_LEFT)]),
    ]
    return PlatePage(
        name=plate.cut.name,
        facts=tuple(facts),
        screws=tuple(_screws(job, scene, plate, lengths)),
        programs=tuple(
            (p.file, p.cutter.name, duration(p.seconds), p.code) for p in scene.programs
        ),
        picture=plate_picture(scene),
    )


def _size(plate: Plate, lengths: Lengths) -> str:
    """The box of the plate."""
    left, low, right, high = seat_of(plate).plate.bounds
    return f"{lengths.show(right - left)} × {lengths.show(high - low)}"


def _step(job: Job, plate: Plate, lengths: Lengths) -> str:
    """Flush, proud or shy, by the thickness of the sheet against the depth of the ledge below the
    face as it is in the end."""
    over = lies(job, plate)
    face = "the skimmed face" if job.skimmed(plate.cut.face) else "the face"
    if abs(over) <= _FLUSH:
        return f"flush with {face}"
    return f"{lengths.show(abs(over))} {'proud of' if over > 0 else 'shy of'} {face}"


def _held(plate: Plate, lengths: Lengths) -> str:
    """What keeps the plate from flying off while it is cut."""
    if plate.tabs is not None:
        tabs = plate.tabs
        size = f"{lengths.show(tabs.width)} wide, {lengths.show(tabs.height)} high"
        return f"{tabs.count} tabs, {size}; tape"
    return f"a skin of {lengths.show(plate.skin)}, and tape"


def _screws(job: Job, scene: Scene, plate: Plate, lengths: Lengths) -> list[tuple[str, str]]:
    """Size, holes and pilots, each with its places in the numbers of its own set-up."""
    screws = plate.screws
    if screws is None:
        return []
    seen = seen_from(scene.job, Side.FRONT)
    drills = [v.planned.cut for v in cuts_of(scene, Side.FRONT)]
    holes = [seen.point(*at) for cut in drills if isinstance(cut, Drill) for at in cut.at]
    from_face = seen_from(job, plate.cut.face)
    pilots = [from_face.point(*at) for at in screw_places(job, plate)]
    return [
        ("screw", f"{lengths.show(screws.diameter)} over the thread"),
        ("holes in the plate", f"{lengths.show(screws.diameter + screws.slack)}, at "
         + _places(holes, lengths)),
        ("pilots in the ledge", f"{lengths.show(screws.pilot.diameter)}, "
         f"{lengths.show(screws.depth)} below the ledge, at " + _places(pilots, lengths)),
    ]  # fmt: skip


def _places(spots: list[tuple[float, float]], lengths: Lengths) -> str:
    """Places as X, Y, in the order in which they are cut."""
    if not spots:
        return "the places of the plan"
    unique = dict.fromkeys((lengths.bare(x), lengths.bare(y)) for x, y in spots)
    return "; ".join(f"{x}, {y}" for x, y in unique)

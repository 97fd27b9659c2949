"""Random jobs with a program each, aimed at the boundary between clear and refused."""

from dataclasses import dataclass, replace

import numpy as np

from proof.cutters import SHAPES, length_of_end
from proof.nouns import Clamp, Cutter, Job, Piece, placed_corners
from proof.programs import random_program
from proof.solids import KINDS, random_piece
from proof.truth import BANDS, SIMPLE_BAND, Truth, truth_of
from proof.upright import _area, standing

AIMED = ["box", "cylinder", "prism", "mesh", "sphere", "box", "prism", "heights", "sphere", "clamp"]
"""What the need is set for, in turn."""
WIDEST = 0.06
"""A truth less narrow than this, mm, is no boundary to aim at."""
ZEROS = ["lower-left", "lower-right", "upper-left", "upper-right", "centre"]


@dataclass(frozen=True)
class Case:
    """A job, its program, and the truth of it; `aimed` is the kind that the need was set for."""

    seed: int
    aimed: str
    job: Job
    text: str
    truth: Truth


def random_case(seed: int) -> Case:
    """The same case for the same number, always."""
    rng = np.random.default_rng([20240, seed])
    aimed = AIMED[seed % len(AIMED)]
    for _ in range(40):
        job = _random_job(rng, aimed)
        text = random_program(rng, job, _anchor(rng, job, aimed))
        truth = truth_of(job, text)
        first = truth.near[-1 if aimed == "clamp" else 0]
        near = first.low > 0.06 and first.high < min(6.0, first.low + WIDEST)
        if near or rng.random() < 0.03:
            break
    job = _with_needs(rng, job, truth, aimed)
    return Case(seed, aimed, job, text, truth_again(job, truth))


def truth_again(job: Job, truth: Truth) -> Truth:
    """The same gaps with the needs of a job."""
    needs = {piece.name: piece.clearance for piece in job.pieces} | {"clamp 1": job.clearance}
    return Truth(tuple(replace(n, need=needs[n.name] + job.path_error) for n in truth.near))


def random_cutter(rng, nut: float) -> Cutter:
    shape = str(rng.choice(list(SHAPES)))
    diameter = float(rng.choice([1.0, 3.0, 6.0, 8.0, rng.uniform(1.0, 12.0)]))
    words = SHAPES[shape][1](rng, diameter)
    bare = Cutter(
        shape=shape, diameter=diameter, flute_length=1.0, shank=1.0, reach=1.0, words=words
    )
    flutes = length_of_end(bare) + float(rng.uniform(1.0, 22.0))
    shank = min(diameter if rng.random() < 0.4 else float(rng.uniform(1.0, 14.0)), nut)
    reach = flutes + (0.0 if rng.random() < 0.1 else float(rng.uniform(0.5, 24.0)))
    return replace(bare, flute_length=max(flutes, 2.5), shank=shank, reach=max(reach, 2.5))


def _random_job(rng, aimed: str) -> Job:
    x0, y0 = (float(v) for v in rng.uniform(-20.0, 30.0, 2))
    box = (x0, y0, x0 + float(rng.uniform(40.0, 70.0)), y0 + float(rng.uniform(40.0, 70.0)))
    thickness, units = float(rng.uniform(28.0, 45.0)), str(rng.choice(["mm", "in"]))
    face = str(rng.choice(["front", "back"]))
    nut = float(rng.uniform(14.0, 26.0))
    kinds = ["cylinder" if aimed == "clamp" else aimed]
    if rng.random() < 0.2:
        kinds.append(str(rng.choice(list(KINDS))))
    made = [
        random_piece(rng, kind, f"thing {number}", {"mm": 1.0, "in": 25.4}[units], box, thickness)
        for number, kind in enumerate(kinds)
    ]
    pieces = [piece for piece, _ in made]
    if rng.random() < 0.1:
        pieces.append(
            replace(random_piece(rng, "box", "soft", 1.0, box, thickness)[0], rule="may-cut")
        )
    return Job(
        units=units,
        box=box,
        thickness=thickness,
        within=float(rng.uniform(0.0, 0.8)) if rng.random() < 0.4 else 0.0,
        turn_over=str(rng.choice(["left-right", "top-bottom"])),
        zeros={side: str(rng.choice(ZEROS)) for side in ("front", "back")},
        face=face,
        path_error=float(rng.choice([0.02, 0.0, rng.uniform(0.0, 0.2)])),
        clearance=1.0,
        cell=float(rng.choice([0.05, 0.1, 0.2, 0.3, 0.5])),
        nut=nut,
        cutter=random_cutter(rng, nut),
        pieces=tuple(pieces),
        clamps=(_clamp(rng, face, box),) if aimed == "clamp" else (),
        files={file[0]: file[1] for _, file in made if file is not None},
    )


def _clamp(rng, face: str, box) -> Clamp:
    x, y = (float(rng.uniform(low, high)) for low, high in (box[::2], box[1::2]))
    w, h = (float(v) for v in rng.uniform(3.0, 20.0, 2))
    return Clamp(face=face, rect=(x, y, x + w, y + h), height=float(rng.uniform(0.5, 25.0)))


def _extent(job: Job, piece: Piece) -> tuple[np.ndarray, np.ndarray]:
    """The box of a piece in the blank frame, with no drift."""
    if piece.kind in ("mesh", "heights"):
        corners = placed_corners(piece, job.thickness)
        return corners.min(axis=0), corners.max(axis=0)
    stands = standing(job, piece)
    area = _area(piece)
    if area is None:
        half = piece.solid["diameter"] / 2.0
        low, high = np.array(piece.at) - half, np.array(piece.at) + half
    else:
        low, high = np.array(area.bounds[:2]), np.array(area.bounds[2:])
    return np.append(low, stands.low - stands.ball), np.append(high, stands.high + stands.ball)


def _anchor(rng, job: Job, aimed: str) -> np.ndarray:
    """A place for the tip near the thing aimed at, blank frame."""
    if aimed == "clamp":
        clamp, up = job.clamps[0], job.up
        low, high = np.array([*clamp.rect[:2], 0.0]), np.array([*clamp.rect[2:], 0.0])
        top = clamp.height if up > 0.0 else -job.thickness - clamp.height
        low[2], high[2] = sorted([top, top - up * (clamp.height + 5.0)])
    else:
        low, high = _extent(job, job.pieces[0])
    radius = max(job.cutter.diameter, job.cutter.shank) / 2.0
    if rng.random() < 0.4:  # above
        xy = low[:2] + rng.uniform(-0.1, 1.1, 2) * (high - low)[:2]
        top = high[2] if job.up > 0.0 else low[2]
        return np.append(xy, top + job.up * rng.uniform(0.3, 4.0))
    angle = rng.uniform(0.0, 2.0 * np.pi)
    half = (high - low)[:2] / 2.0 + radius + rng.uniform(0.2, 4.0)
    xy = (low + high)[:2] / 2.0 + half * [np.cos(angle), np.sin(angle)]
    return np.append(xy, rng.uniform(low[2] - 2.0, high[2] + 2.0))


def spare_wanted(rng, kind: str) -> float:
    """By how much the gap is to be more than the need, mm."""
    band = BANDS.get(kind, SIMPLE_BAND)
    way = rng.random()
    if way < 0.45:
        return float(rng.uniform(-0.05, 0.05))
    if way < 0.6:
        return float(rng.uniform(-0.01, 0.0))
    if way < 0.8:
        return band + float(rng.uniform(0.006, 0.03))
    return float(rng.uniform(-2.0, 2.0))


def _with_needs(rng, job: Job, truth: Truth, aimed: str) -> Job:
    """Clearances such that the aimed gap is near its need and all others well above theirs."""
    clearance, pieces = job.clearance, []
    near = {n.name: n for n in truth.near}
    for number, piece in enumerate(job.pieces):
        if piece.name not in near:
            pieces.append(piece)
            continue
        gap = near[piece.name].middle
        first = number == 0 and aimed != "clamp"
        spare = spare_wanted(rng, piece.kind) if first else float(rng.uniform(0.3, 3.0))
        pieces.append(replace(piece, clearance=max(gap - job.path_error - spare, 0.0)))
    if "clamp 1" in near:
        gap = near["clamp 1"].middle
        clearance = max(gap - job.path_error - spare_wanted(rng, "clamp"), 0.0)
    return replace(job, pieces=tuple(pieces), clearance=clearance)

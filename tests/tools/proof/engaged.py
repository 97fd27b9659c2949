"""Random pockets of bounded engagement over pieces, planned, and judged two ways: nothing that the
planner writes may be refused or come too near, and no way in lies over a piece without need."""

import json
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from engagement import Block, trace
from shapely.geometry import box

from proof.asked import write
from proof.jobs import _extent, _random_job
from proof.nouns import Cutter, Job
from proof.truth import truth_of
from proof.upright import _area
from proof.ways import from_page, to_page
from toolpath.app.plan import plan
from toolpath.errors import KeepclearError

KINDS = ["sphere", "box", "prism", "mesh", "cylinder"]
BOUND = 70.0
WIDE, THIN = 6.0, 3.0
HELIX = 0.25
"""The least radius of a helix over the cutter's diameter (docs/job-file.md, how it gets in)."""
WAYS = ["engage", "below", "two", "floor", "over-cut", "skim", "deep", "finish", "plain"]


@dataclass(frozen=True)
class Found:
    """What came of a number: `word` is clear, refused or the error; `false` what is wrong."""

    seed: int
    kind: str
    way: str
    blocked: str
    word: str
    false: str = ""
    worst: float = 0.0
    within: float = 1.0


def one_engaged(seed: int) -> Found:
    """The case of a number, planned and judged."""
    rng = np.random.default_rng([606, seed])
    kind, way = KINDS[seed % len(KINDS)], str(rng.choice(WAYS))
    blocked = str(rng.choice(["rise", "pillar", "pillar", "stop"]))
    job = _with_cuts(rng, _random_job(rng, kind), way, blocked)
    found = Found(seed, kind, way, blocked, "")
    with tempfile.TemporaryDirectory() as name:
        path, out = write(job, Path(name)), Path(name) / "out"
        try:
            plan(path, out, pictures=False)
        except KeepclearError as error:
            return replace(found, word=f"{type(error).__name__}: {str(error)[-160:]}")
        data = json.loads((out / "plan.json").read_text())
        found = replace(found, word=data["verdict"])
        said = [each["refusal"] for each in data["cuts"] if each.get("refusal")]
        if said:
            return replace(found, word="no way in" if "no way in" in said[0] else "nothing left")
        if data["verdict"] != "clear":
            needless = blocked != "stop" or _misses(job)
            return replace(found, false="needless refusal" if needless else "")
        texts = [
            (each["cutter"], (out / "programs" / Path(each["file"]).name).read_text())
            for each in data["programs"]
        ]
    return _judged(found, job, texts)


def _judged(found: Found, job: Job, texts: list[tuple[str, str]]) -> Found:
    block = _block(job)
    false = ""
    for name, text in texts:
        cutter = _cutters(job)[name]
        near = truth_of(replace(job, cutter=cutter), text)
        if near.breach > 0.0:
            false = f"breach {near.breach:.4f}"
        met = trace(text, cutter.diameter / 2.0, block=block)
        if met.cutting.any() and found.way not in ("plain", "skim", "below"):
            found = replace(
                found,
                worst=max(found.worst, met.worst),
                within=min(found.within, met.share_within(BOUND + 5.0)),
            )
        # A floor that rises is brought over the piece, down ramps there.
        over = "" if found.blocked == "rise" else _needlessly_over(job, cutter, met)
        if over and not false:
            false = over
    return replace(found, false=false)


def _block(job: Job) -> Block:
    x0, y0, x1, y1 = job.box
    corners = from_page(job, np.array([[x0, y0, 0.0], [x1, y1, 0.0]]))[:, :2]
    low, high = corners.min(axis=0) - 12.0, corners.max(axis=0) + 12.0
    return Block.over(*low, *high)


def _outline(job: Job) -> shapely.Polygon:
    return box(*json.loads(job.cuts.splitlines()[0].removeprefix("# ")))


def _misses(job: Job) -> bool:
    """Whether a pocket of this outline is nowhere near a piece in plan."""
    area = _outline(job)
    return all(not _shadow(job, piece, 3.0).intersects(area) for piece in job.pieces)


def _shadow(job: Job, piece, grow: float):
    """A piece in plan, drift included, or more."""
    if _stands(piece):
        return _area(piece).buffer(piece.side + grow)
    low, high = _extent(job, piece)
    middle, half = (low + high)[:2] / 2.0, (high - low)[:2] / 2.0
    return shapely.Point(middle).buffer(float(np.hypot(*half)) + piece.side + grow)


def _stands(piece) -> bool:
    """Whether what a piece covers in plan is known exactly."""
    return piece.kind not in ("mesh", "heights") and piece.swing == 0.0 and _area(piece) is not None


def _needlessly_over(job: Job, cutter: Cutter, met) -> str:
    """Whether a way in is over a piece although a helix has room beside all pieces."""
    radius = cutter.diameter / 2.0
    spots = met.spots[met.entry & (met.angle > 120.0)]
    if not len(spots):
        return ""
    surely = shapely.union_all([_shadow(job, p, -p.side - 0.1) for p in job.pieces if _stands(p)])
    at = shapely.points(to_page(job, spots)[:, :2])
    if surely.is_empty or not (shapely.distance(surely, at) < radius - 0.2).any():
        return ""
    far = shapely.union_all([_shadow(job, p, radius + 0.1) for p in job.pieces])
    free = _outline(job).buffer(-radius - 0.5).difference(far)
    room = max((shapely.maximum_inscribed_circle(part).length for part in _parts(free)), default=0)
    return "over a piece" if room > HELIX * cutter.diameter + 0.3 else ""


def _parts(area):
    return [part for part in shapely.get_parts(area) if not part.is_empty]


def _cutters(job: Job) -> dict[str, Cutter]:
    thin = replace(job.cutter, diameter=THIN, shank=THIN)
    return {"tool": job.cutter, "thin": thin}


def _with_cuts(rng, job: Job, way: str, blocked: str) -> Job:
    deep = way == "deep"
    stepdown = 20.0 if deep else float(rng.choice([2.0, 6.0]))
    cutter = Cutter(
        shape="flat",
        diameter=WIDE,
        flute_length=20.0,
        shank=WIDE,
        reach=26.0,
        stepdown=stepdown,
    )
    low, high = _extent(job, job.pieces[0])
    middle = (low + high)[:2] / 2.0 + rng.uniform(-9.0, 9.0, 2)
    half = rng.uniform(8.0, 16.0, 2)
    x0, y0, x1, y1 = job.box
    rect = [
        max(middle[0] - half[0], x0 + 0.5),
        max(middle[1] - half[1], y0 + 0.5),
        min(middle[0] + half[0], x1 - 0.5),
        min(middle[1] + half[1], y1 - 0.5),
    ]
    depth = float(rng.uniform(14.0, 20.0) if deep else rng.uniform(2.0, 12.0))
    below = float(rng.uniform(0.3, 1.0)) if way in ("below", "skim") else 0.0
    cut = {
        "do": '"pocket"',
        "outline": f"{{ rect = [{_lengths(job, rect)}] }}",
        "depth": repr(depth / job.unit),
        "cutter": '["tool", "thin"]' if way == "two" else '"tool"',
        "if_blocked": f'"{blocked}"',
        "below": repr(below / job.unit) if below else None,
        "engage": None if way == "plain" else str(BOUND),
        "finish": repr(0.3 / job.unit) if way == "finish" else None,
        "finish_floor": repr(0.3 / job.unit) if way == "floor" else None,
        "inside_corners": '"over-cut"' if way == "over-cut" else None,
        "clear_chips": "0.5" if deep else None,
    }
    first = [] if below == 0.0 else [_before(job, way, rect, below)]
    pieces = tuple(replace(piece, clearance=float(rng.uniform(0.2, 1.5))) for piece in job.pieces)
    cuts = [
        f"# {json.dumps([float(v) for v in rect])}",
        _thin(job),
        *first,
        _table("pocket", job, cut),
    ]
    found = replace(job, cutter=cutter, pieces=pieces, cell=max(job.cell, 0.1), clamps=())
    return replace(found, cuts="\n".join(cuts))


def _lengths(job: Job, values) -> str:
    return ", ".join(repr(float(value) / job.unit) for value in values)


def _before(job: Job, way: str, rect: list[float], below: float) -> str:
    """What is cut before: the face, or a plain pocket just as wide."""
    words = {"depth": repr(below / job.unit), "cutter": '"tool"', "if_blocked": '"rise"'}
    if way == "skim":
        return _table("skim", job, {"do": '"face"', **words})
    words["outline"] = f"{{ rect = [{_lengths(job, rect)}] }}"
    return _table("first", job, {"do": '"pocket"', **words})


def _table(name: str, job: Job, words: dict) -> str:
    lines = ["[[cut]]", f'name = "{name}"', f'face = "{job.face}"']
    return "\n".join([*lines, *(f"{k} = {v}" for k, v in words.items() if v is not None)])


def _thin(job: Job) -> str:
    """A second cutter, as long as the first."""
    lengths = {
        "diameter": THIN,
        "flute_length": 20.0,
        "shank": THIN,
        "reach": 26.0,
        "stepdown": 1.5,
    }
    words = {"feed": 900.0, "plunge": 300.0, **lengths}
    lines = ["[[cutter]]", 'name = "thin"', 'shape = "flat"', "flutes = 2", "rpm = 12000"]
    lines += [f"{key} = {value / job.unit!r}" for key, value in words.items()]
    return "\n".join([*lines, "stepover = 0.4"])

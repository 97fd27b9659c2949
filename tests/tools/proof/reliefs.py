"""Reliefs from random maps over random pieces, planned, and judged by the truth: what comes too
near a piece, and what goes under the map."""

import io
import math
import tempfile
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from PIL import Image
from scipy import ndimage

from proof.asked import ask, write
from proof.cutters import SHAPES, length_of_end
from proof.jobs import _extent, _random_job
from proof.nouns import Cutter, Job
from proof.truth import truth_of
from proof.ways import ways_of
from proof.words import RAPID, read
from toolpath.app.plan import plan
from toolpath.errors import FaultsError

KINDS = ["box", "cylinder", "sphere", "prism", "heights", "mesh"]
RULES = ["stop", "rise", "pillar"]
GOUGE = 0.005
"""So far under the map a path may come, mm: the third of what it may lie above."""
ALONG = 0.15
"""Places at which a path is held against the map lie so near, mm."""
MOST_PLACES = 6000


@dataclass(frozen=True)
class Map:
    """Points (n, 3) of the surface asked for and of the face round it, blank frame in plan and
    height over the face."""

    points: np.ndarray


@dataclass(frozen=True)
class Outcome:
    """`word`: planned, refused or wrong; by how much the programs surely breach, and go under the
    map, mm; `why` it is false, if it is."""

    seed: int
    kind: str
    rule: str
    word: str
    breach: float = -math.inf
    gouge: float = 0.0
    false: str = ""
    why: str = ""


def random_relief(seed: int) -> tuple[Job, Map, str, str]:
    """A job, what its map asks for, the solid below it and the rule: the same for the same
    number, always."""
    rng = np.random.default_rng([606, seed])
    kind, rule = KINDS[seed % len(KINDS)], RULES[seed // len(KINDS) % len(RULES)]
    return *_with_relief(rng, _random_job(rng, kind), rule), kind, rule


def planned_texts(job: Job) -> list[str]:
    """The programs that the planner writes for a job; none where it refuses. Raises FaultsError."""
    with tempfile.TemporaryDirectory() as name:
        path, out = write(job, Path(name)), Path(name) / "out"
        plan(path, out, pictures=False)
        return [file.read_text() for file in sorted((out / "programs").glob("*.nc"))]


def one_relief(seed: int) -> Outcome:
    """The relief of a number, planned and judged."""
    try:
        return _one_relief(seed)
    except Exception as error:  # a run goes on
        why = f"{type(error).__name__}: {error}"
        return Outcome(seed, "crash", "crash", "crash", false="crash", why=why)


def _one_relief(seed: int) -> Outcome:
    job, asked, kind, rule = random_relief(seed)
    try:
        texts = planned_texts(job)
    except FaultsError as error:
        return Outcome(seed, kind, rule, "wrong", why=str(error))
    if not texts:
        return Outcome(seed, kind, rule, "refused")
    found = [_judged(job, text, asked) for text in texts]
    breach, gouge = max(b for b, _, _ in found), max(g for _, g, _ in found)
    words = [
        "breach" if breach > 0.0 else "",
        "gouge" if gouge > GOUGE else "",
        *(word if word != "clear" else "" for _, _, word in found),
    ]
    return Outcome(seed, kind, rule, "planned", breach, gouge, " ".join(filter(None, words)))


def _judged(job: Job, text: str, asked: Map) -> tuple[float, float, str]:
    """By how much a program breaches and gouges, and what the check of it alone says."""
    return truth_of(job, text).breach, gouge_of(job, text, asked), ask(job, text).word


def gouge_of(job: Job, text: str, asked: Map) -> float:
    """How far the flutes come under the points of a map at most, mm."""
    ways = ways_of(job, [way for way in read(text, job.units) if way.kind != RAPID])
    many = np.maximum(1, np.ceil(ways.speed / ALONG)).astype(int)
    row = np.repeat(np.arange(len(ways)), many)
    share = (np.arange(len(row)) - np.repeat(np.cumsum(many) - many, many) + 1.0) / many[row]
    places = ways.at(row, share)
    up = places[:, 2] if job.face == "front" else -places[:, 2] - job.thickness
    low = np.flatnonzero(up < 0.0)
    low = low[:: math.ceil(max(len(low), 1) / MOST_PLACES)]
    radius, worst = job.cutter.diameter / 2.0, 0.0
    order = np.argsort(asked.points[:, 0])
    points = asked.points[order]
    for x, y, tip in zip(places[low, 0], places[low, 1], up[low], strict=True):
        first, end = np.searchsorted(points[:, 0], [x - radius, x + radius])
        near = points[first:end]
        r = np.hypot(near[:, 0] - x, near[:, 1] - y)
        under = near[:, 2] - tip - _height(job.cutter, r)
        worst = max(worst, float(under.max(initial=0.0)))
    return worst


def _height(cutter: Cutter, r: np.ndarray) -> np.ndarray:
    """Height of the lower end over the tip: its section, straight between its corners."""
    end = np.array(SHAPES[cutter.shape][0](cutter, 96)[0])
    return np.where(r <= end[-1, 0], np.interp(r, end[:, 0], end[:, 1]), np.inf)


def _with_relief(rng, job: Job, rule: str) -> tuple[Job, Map]:
    shape = str(rng.choice(["flat", "ball", "ball", "bull", "vee"]))
    diameter = float(rng.choice([2.0, 3.0, 6.0]))
    bare = Cutter(
        shape=shape,
        diameter=diameter,
        flute_length=1.0,
        shank=diameter,
        reach=float(rng.uniform(26.0, 32.0)),
        words=SHAPES[shape][1](rng, diameter) | ({"angle": 90.0} if shape == "vee" else {}),
    )
    cutter = replace(bare, flute_length=max(20.0, length_of_end(bare)))
    pieces = [replace(p, clearance=float(rng.uniform(0.2, 1.5))) for p in job.pieces]
    pieces[0] = replace(pieces[0], face=job.face, depth=float(rng.uniform(2.0, 7.0)))
    job = replace(job, pieces=tuple(pieces))
    low, high = _extent(job, pieces[0])
    size = rng.uniform(3.0 * diameter, 18.0 + diameter, 2)
    middle = (low + high)[:2] / 2.0 + rng.uniform(-5.0, 5.0, 2)
    box = np.array(job.box).reshape(2, 2)
    half = np.hypot(*size) / 2.0 if rng.random() < 0.3 else size / 2.0
    turn = 0.0 if isinstance(half, np.ndarray) else float(rng.uniform(-180.0, 180.0))
    over = 1.0 if rng.random() < 0.2 else -0.3  # now and then it runs off the edge of the blank
    middle = np.clip(middle, box[0] + half - over, box[1] - half + over)
    top = -high[2] if job.face == "front" else low[2] + job.thickness
    deep = float(np.clip(top + rng.uniform(-3.0, 2.0), 0.8, 14.0))
    values, file, data = _values(rng, size)
    least = float(rng.uniform(0.0, 0.6)) * deep
    depths = least + (deep - least) * values
    asked = _asked(job, depths, size, middle, math.radians(turn))

    def n(*lengths: float) -> str:
        return ", ".join(repr(float(v) / job.unit) for v in lengths)

    by = str(rng.choice(["parallel", "rings", "contours"]))
    cut = [
        "[[cut]]",
        'name = "relief"',
        f'face = "{job.face}"',
        'do = "relief"',
        f'map = {{ file = "{file}", size = [{n(*size)}], at = [{n(*middle)}], turn = {turn!r}, '
        f"low = {n(least)}, high = {n(deep)} }}",
        'cutter = "tool"',
        f"finish = {n(float(rng.choice([0.0, 0.2, 0.4])))}",
        f"cusp = {n(float(rng.choice([0.02, 0.05, 0.1])))}",
        f'finish_by = "{by}"',
        f'if_blocked = "{rule}"',
    ]
    if by == "parallel":
        cut.append(f"angle = {float(rng.uniform(0.0, 180.0))!r}")
    files = job.files | {file: data}
    return replace(job, cutter=cutter, cuts="\n".join(cut), files=files), asked


def _values(rng, size: np.ndarray) -> tuple[np.ndarray, str, bytes]:
    """Shares 0 to 1 of a map, row along +y, and the file that holds them."""
    columns, rows = (max(6, round(float(v) / rng.uniform(0.15, 0.8))) for v in size)
    rough = rng.uniform(0.0, 1.0, (rows, columns))
    way = int(rng.integers(4))
    if way == 0:  # bumps
        found = ndimage.gaussian_filter(rough, rng.uniform(1.5, 4.0), mode="nearest")
    elif way == 1:  # steps
        found = np.round(3.0 * ndimage.gaussian_filter(rough, 2.0, mode="nearest") / 0.6) / 3.0
    elif way == 2:  # noise
        found = rough
    else:  # a slope with a hole in it
        found = np.linspace(0.0, 1.0, columns)[None, :] + np.zeros((rows, 1))
        found[rows // 3 : rows // 2 + 1, columns // 3 : columns // 2 + 1] = 1.0
    found = (found - found.min()) / max(float(np.ptp(found)), 1e-9)
    data = io.BytesIO()
    if rng.random() < 0.3:
        np.save(data, found[::-1])
        return found, "map.npy", data.getvalue()
    scale, kind = (255, np.uint8) if rng.random() < 0.5 else (65535, np.uint16)
    counted = np.round(found * scale).astype(kind)
    Image.fromarray(counted[::-1].copy()).save(data, "png")
    return counted / scale, "map.png", data.getvalue()


def _asked(job: Job, depths: np.ndarray, size: np.ndarray, middle: np.ndarray, turn: float) -> Map:
    """The samples and the middles between two of them, linear as the map is along rows and
    columns; and the face just outside, where there is blank."""
    rows, columns = depths.shape
    along = (depths[:, 1:] + depths[:, :-1]) / 2.0
    across = (depths[1:] + depths[:-1]) / 2.0
    x, y = np.linspace(-0.5, 0.5, columns) * size[0], np.linspace(-0.5, 0.5, rows) * size[1]
    parts = [
        _columns(x, y, depths),
        _columns((x[1:] + x[:-1]) / 2.0, y, along),
        _columns(x, (y[1:] + y[:-1]) / 2.0, across),
    ]
    edge = np.arange(0.0, 1.0, 0.1 / float(size.max()))
    off = size / 2.0 + 0.005
    for a, b in (((-1, -1), (1, -1)), ((1, -1), (1, 1)), ((1, 1), (-1, 1)), ((-1, 1), (-1, -1))):
        line = np.array(a) + (np.array(b) - np.array(a)) * edge[:, None]
        parts.append(np.column_stack([line * off, np.zeros(len(line))]))
    points = np.concatenate(parts)
    c, s = math.cos(turn), math.sin(turn)
    own = points[:, :2].copy()
    points[:, 0] = middle[0] + own[:, 0] * c - own[:, 1] * s
    points[:, 1] = middle[1] + own[:, 0] * s + own[:, 1] * c
    x0, y0, x1, y1 = job.box
    here = (points[:, 0] > x0) & (points[:, 0] < x1) & (points[:, 1] > y0) & (points[:, 1] < y1)
    return Map(points[here])


def _columns(x: np.ndarray, y: np.ndarray, depth: np.ndarray) -> np.ndarray:
    xs, ys = np.meshgrid(x, y)
    return np.column_stack([xs.ravel(), ys.ravel(), -depth.ravel()])


def relief_table(results: list[Outcome]) -> str:
    """Counts by rule."""
    lines = [f"{'':8}  reliefs  planned  refused  wrong  false  most of breach  most under the map"]
    for rule in (*RULES, "all"):
        mine = [r for r in results if rule in (r.rule, "all")]
        words = Counter(r.word for r in mine)
        breach = max((r.breach for r in mine), default=-math.inf)
        gouge = max((r.gouge for r in mine), default=0.0)
        lines.append(
            f"{rule:8}  {len(mine):7}  {words['planned']:7}  {words['refused']:7}  "
            f"{words['wrong']:5}  {sum(bool(r.false) for r in mine):5}  {breach:+14.4f}  "
            f"{gouge:18.4f}"
        )
    return "\n".join(lines)

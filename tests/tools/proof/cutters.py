"""Cutters as turned bodies: convex half sections in (r, z), z up from the tip, mm.

To add a shape, add a line to `SHAPES`: its sections, and random words for it.
"""

import math
from itertools import pairwise

import numpy as np
import shapely

from proof.nouns import Cutter, Job

RINGS = 96
"""Chords of a quarter round."""
SPINDLE = 5000.0
"""How far the nut goes on above its lower end (docs/check.md: it is taken to go on upwards)."""


def _flat(cutter, rings):
    return [[(cutter.diameter / 2.0, 0.0)]]


def _round(cutter, rings):
    r = cutter.diameter / 2.0
    c = cutter.words.get("corner_radius", r)
    angle = np.linspace(0.0, math.pi / 2.0, rings + 1)
    return [list(zip(r - c + c * np.sin(angle), c - c * np.cos(angle), strict=True))]


def _pointed(cutter, rings):
    r, tip = cutter.diameter / 2.0, cutter.words.get("tip_diameter", 0.0) / 2.0
    full = (r - tip) / math.tan(math.radians(cutter.words["angle"]) / 2.0)
    return [[(tip, 0.0), (r, full)]]


def _hollow(cutter, rings):
    """A quarter round cut out of the side, by tangents: inside it, as the chords of a ball are."""
    r, c = cutter.diameter / 2.0, cutter.words["radius"]
    half = math.pi / 4.0 / rings
    angle = np.concatenate([[0.0], np.arange(1, 2 * rings, 2) * half, [math.pi / 2.0]])
    away = np.full(len(angle), c / math.cos(half))
    away[[0, -1]] = c
    points = list(zip(r - away * np.cos(angle), away * np.sin(angle), strict=True))
    return [list(pair) for pair in pairwise(points)]


def _hollow_words(rng, diameter):
    return {"radius": rng.uniform(0.1, 0.45) * diameter}


def _bull_words(rng, diameter):
    return {"corner_radius": rng.uniform(0.1, 0.5) * diameter}


def _vee_words(rng, diameter):
    return {"angle": rng.uniform(25.0, 150.0), "tip_diameter": rng.choice([0.0, 0.1]) * diameter}


def _drill_words(rng, diameter):
    return {"angle": float(rng.choice([90.0, 118.0, 135.0, 180.0]))}


def _none(rng, diameter):
    return {}


SHAPES = {
    "flat": (_flat, _none),
    "ball": (_round, _none),
    "bull": (_round, _bull_words),
    "vee": (_pointed, _vee_words),
    "drill": (_pointed, _drill_words),
    "round-over": (_hollow, _hollow_words),
}
"""Shape to (lower ends of its convex parts, from the axis outward and up; random words)."""


def skin(radius: float, chords: int) -> float:
    """How far a quarter round of `chords` chords lies inside the true one at most, mm."""
    return radius * (1.0 - math.cos(math.pi / 4.0 / chords))


def sections(job: Job, rings: int = RINGS) -> list[np.ndarray]:
    """Convex half sections (k, 2) of flutes, shank and nut, each with its corners on the axis."""
    cutter = job.cutter
    ends = SHAPES[cutter.shape][0](cutter, rings)
    found = []
    for end in ends:
        top = max(cutter.flute_length, end[-1][1])
        found.append([(0.0, end[0][1]), *end, (end[-1][0], top), (0.0, top)])
    for radius, low, high in (
        (cutter.shank / 2.0, cutter.flute_length, cutter.reach),
        (job.nut / 2.0, cutter.reach, cutter.reach + SPINDLE),
    ):
        if high > low:
            found.append([(0.0, low), (radius, low), (radius, high), (0.0, high)])
    return [np.array(each) for each in found]


def half_section(job: Job) -> shapely.Geometry:
    """All parts together as a polygon in (r, z)."""
    area = shapely.union_all([shapely.Polygon(each) for each in sections(job)])
    shapely.prepare(area)
    return area


def length_of_end(cutter: Cutter) -> float:
    """Height at which the shaped end is over."""
    return max(float(end[-1][1]) for end in SHAPES[cutter.shape][0](cutter, RINGS))

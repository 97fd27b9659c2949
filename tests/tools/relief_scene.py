"""A relief in a small blank, without files."""

import math
from pathlib import Path

import numpy as np

from toolpath.drawing.ground import Ground
from toolpath.drawing.shapes import rect
from toolpath.job.model import (
    Blank,
    CheckRules,
    Cutter,
    IfBlocked,
    Job,
    Machine,
    Relief,
    Shape,
    Side,
    Zero,
)
from toolpath.plan.target import Target, dropping_of, relief_area
from toolpath.units import Unit


def cutter(shape=Shape.BALL, diameter=6.0, **other):
    return Cutter(
        name=f"{shape.value} {diameter:g}", shape=shape, diameter=diameter, flutes=2,
        flute_length=20.0, shank=diameter, reach=40.0, rpm=16000.0, feed=1200.0, plunge=300.0,
        ramp=math.radians(3), stepdown=2.0, stepover=0.4, **other,
    )  # fmt: skip


def relief(depth, *, size=20.0, step=0.2, cutters=None, **other):
    """A relief about 0, 0 whose depth is a function of x and y."""
    count = round(size / step) + 1
    places = np.linspace(-size / 2, size / 2, count)
    z = -depth(*np.meshgrid(places, places))
    first, *smaller = cutters or [cutter()]
    half = size / 2
    given = {"finish": 0.3, "if_blocked": IfBlocked.STOP} | other
    return Relief(
        name="dial", face=Side.FRONT, cutter=first, smaller=tuple(smaller), depth=float(-z.min()),
        outline=(rect(-half, -half, half, half),),
        ground=Ground(z=z, at=(0.0, 0.0), size=(size, size)), **given,
    )  # fmt: skip


def job_of(cut, *pieces):
    return Job(
        file=Path("job.toml"), name="dial", unit=Unit.MM,
        blank=Blank(outline=rect(-40, -40, 40, 40), thickness=30.0),
        zero=dict.fromkeys(Side, Zero.LOWER_LEFT),
        machine=Machine(
            travel=(600.0, 400.0, 90.0), feed_max=3000.0, spindle=(8000.0, 24000.0),
            safe_height=6.0,
        ),
        check=CheckRules(clearance=1.0), cutters={c.name: c for c in cut.cutters},
        pieces=tuple(pieces), clamps=(), cuts=(cut,),
    )  # fmt: skip


def target_of(cut, *pieces):
    job = job_of(cut, *pieces)
    return Target.of(job, cut, cut.finishers[0], relief_area(cut), dropping_of(cut.ground))

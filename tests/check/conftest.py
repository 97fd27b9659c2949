import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from toolpath.drawing.outline import Loop, Region
from toolpath.job.model import (
    Blank,
    CheckRules,
    Clamp,
    Cutter,
    Job,
    Machine,
    Piece,
    Shape,
    Side,
    TurnOver,
    Zero,
)
from toolpath.rs274.read import Program, read_program
from toolpath.units import Unit


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Region:
    return Region(outer=Loop.of_polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))


def circle(x: float, y: float, radius: float) -> Region:
    # Two half circles; the bulge of a half circle is tan(180 degrees / 4) = 1 (DXF reference).
    return Region(outer=Loop(points=np.array([[x - radius, y, 1.0], [x + radius, y, 1.0]])))


def make_cutter(**changes: object) -> Cutter:
    base = Cutter(
        name="flat 6",
        shape=Shape.FLAT,
        diameter=6.0,
        flutes=2,
        flute_length=25.0,
        shank=6.0,
        reach=40.0,
        rpm=16000.0,
        feed=1200.0,
        plunge=300.0,
        ramp=math.radians(3.0),
        stepdown=3.0,
        stepover=0.4,
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def make_job(
    pieces: tuple[Piece, ...] = (),
    *,
    clamps: tuple[Clamp, ...] = (),
    turn_over: TurnOver = TurnOver.LEFT_RIGHT,
    zero: Zero = Zero.LOWER_LEFT,
    outline: Region | None = None,
    thickness: float = 40.0,
    within: float = 0.0,
    cuts: tuple[object, ...] = (),
    cutter: Cutter | None = None,
    path_error: float = 0.02,
) -> Job:
    tool = cutter or make_cutter()
    return Job(
        file=Path("job.toml"),
        name="clock",
        unit=Unit.MM,
        blank=Blank(
            outline=outline or rectangle(10.0, 20.0, 130.0, 100.0),
            thickness=thickness,
            thickness_within=within,
            turn_over=turn_over,
        ),
        zero={Side.FRONT: zero, Side.BACK: zero},
        machine=Machine(
            travel=(600.0, 400.0, 90.0),
            feed_max=3000.0,
            spindle=(8000.0, 24000.0),
            safe_height=6.0,
            path_error=path_error,
        ),
        check=CheckRules(cell=0.5, clearance=1.0),
        cutters={tool.name: tool},
        pieces=pieces,
        clamps=clamps,
        cuts=cuts,  # type: ignore[arg-type]
    )


def make_piece(solid: object, at: tuple[float, float] = (70.0, 60.0), **changes: object) -> Piece:
    base = Piece(
        name="cog",
        solid=solid,  # type: ignore[arg-type]
        at=at,
        measured_from=Side.FRONT,
        depth=8.0,
        clearance=1.0,
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def read(*lines: str) -> Program:
    text = "\n".join(["G21 G17 G90 G94 G54", "S16000 M3", *lines, "M2", ""])
    return read_program(text, unit=Unit.MM)


class Kit:
    rectangle = staticmethod(rectangle)
    circle = staticmethod(circle)
    cutter = staticmethod(make_cutter)
    job = staticmethod(make_job)
    piece = staticmethod(make_piece)
    read = staticmethod(read)


@pytest.fixture
def kit() -> type[Kit]:
    return Kit


Maker = Callable[..., object]

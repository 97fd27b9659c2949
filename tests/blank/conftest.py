from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh

from toolpath.drawing.outline import Loop, Region
from toolpath.job.model import (
    Blank,
    CheckRules,
    Clamp,
    Cutter,
    Drift,
    Heights,
    Job,
    Machine,
    Mesh,
    Piece,
    Prism,
    Shape,
    Side,
    Solid,
    TurnOver,
    Zero,
)
from toolpath.units import Unit


def _region(x0: float, y0: float, x1: float, y1: float) -> Region:
    return Region(outer=Loop.of_polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))


def _blank(**changed) -> Blank:
    plain = {"outline": _region(10.0, -20.0, 110.0, 60.0), "thickness": 42.0}
    return Blank(**(plain | changed))


def _piece(solid: Solid, **changed) -> Piece:
    plain = {
        "name": "cog",
        "at": (60.0, 20.0),
        "measured_from": Side.FRONT,
        "depth": 8.0,
        "clearance": 1.0,
        "drift": Drift(),
    }
    return Piece(solid=solid, **(plain | changed))


def _cutter(**changed) -> Cutter:
    plain = {
        "name": "flat 6",
        "shape": Shape.FLAT,
        "diameter": 6.0,
        "flutes": 2,
        "flute_length": 35.0,
        "shank": 6.0,
        "reach": 45.0,
        "rpm": 16000.0,
        "feed": 1200.0,
        "plunge": 300.0,
        "ramp": 0.05,
        "stepdown": 3.0,
        "stepover": 0.4,
    }
    return Cutter(**(plain | changed))


def _job(
    pieces: tuple[Piece, ...] = (),
    clamps: tuple[Clamp, ...] = (),
    zero: Zero = Zero.LOWER_LEFT,
    turn_over: TurnOver = TurnOver.LEFT_RIGHT,
    **changed,
) -> Job:
    cutter = _cutter()
    plain = {
        "file": Path("job.toml"),
        "name": "wall clock",
        "unit": Unit.MM,
        "blank": _blank(turn_over=turn_over),
        "zero": {Side.FRONT: zero, Side.BACK: zero},
        "machine": Machine(
            travel=(600, 400, 90), feed_max=3000, spindle=(8000, 24000), safe_height=6
        ),
        "check": CheckRules(clearance=1.0),
        "cutters": {cutter.name: cutter},
        "cuts": (),
    }
    return Job(pieces=pieces, clamps=clamps, **(plain | changed))


@pytest.fixture
def region() -> Callable[..., Region]:
    """region(x0, y0, x1, y1): a rectangle."""
    return _region


@pytest.fixture
def blank() -> Callable[..., Blank]:
    """A blank from (10, -20) to (110, 60), 42 thick, with changes."""
    return _blank


@pytest.fixture
def piece() -> Callable[..., Piece]:
    """A piece of a solid at (60, 20), 8 below the front, with changes."""
    return _piece


@pytest.fixture
def cutter() -> Callable[..., Cutter]:
    """A flat cutter of 6 mm with changes."""
    return _cutter


@pytest.fixture
def job() -> Callable[..., Job]:
    """A job of that blank and cutter, without cuts."""
    return _job


@pytest.fixture
def angle_iron() -> Prism:
    """An L of 20 x 12 with arms 5 and 4 wide, 6 high, drawn away from its origin."""
    corners = [(100.0, 50.0), (120, 50), (120, 54), (105, 54), (105, 62), (100, 62)]
    return Prism(outline=(Region(outer=Loop.of_polygon(corners)),), height=6.0)


@pytest.fixture
def driftwood() -> Heights:
    """Measured tops z = 4 + 2 cos(x / 3) cos(y / 4) over a grid of 17 x 9 mm, lopsided."""
    x, y = np.meshgrid(np.linspace(0.0, 16.0, 17), np.linspace(0.0, 8.0, 9))
    z = 4.0 + 2.0 * np.cos(x / 3.0) * np.cos(y / 4.0)
    cell = np.arange(17 * 9).reshape(9, 17)
    a, b, c, d = (
        part.ravel() for part in (cell[:-1, :-1], cell[:-1, 1:], cell[1:, 1:], cell[1:, :-1])
    )
    triangles = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    return Heights(
        file=Path("driftwood.csv"),
        points=np.column_stack([x.ravel(), y.ravel(), z.ravel()]),
        triangles=triangles.astype(np.int64),
    )


def _pebble(radii: tuple[float, float, float] = (8.0, 5.0, 3.0), **changed) -> Mesh:
    ball = trimesh.creation.icosphere(subdivisions=3, radius=1.0)
    return Mesh(
        file=Path("pebble.stl"),
        vertices=np.array(ball.vertices * radii),
        triangles=np.array(ball.faces, dtype=np.int64),
        **({"tilt": (0.3, -0.4)} | changed),
    )


@pytest.fixture
def pebble() -> Callable[..., Mesh]:
    """A tilted ellipsoid of 1280 triangles, with changes."""
    return _pebble

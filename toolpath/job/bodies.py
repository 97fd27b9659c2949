"""The nouns of what a piece may be: its solid, in millimetres and radians, as its own file or words
have it."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from toolpath.drawing.outline import Outline


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A box with sides `size` along x, y (before turning) and z."""

    size: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """An upright cylinder."""

    diameter: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sphere:
    """A ball."""

    diameter: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """A triangle mesh as its file has it, scaled to mm: vertices (v, 3), triangles (t, 3).

    `tilt` is (about x, about y), radians, applied x first, then y, before the piece is turned.
    """

    file: Path
    vertices: NDArray[np.float64] = field(repr=False)
    triangles: NDArray[np.int64] = field(repr=False)
    watertight: bool = True
    tilt: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prism:
    """An upright solid on an outline of its own, which may have holes and several parts."""

    outline: Outline
    height: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heights:
    """Measured tops: everything from a flat foot at z = 0 up to a surface of triangles over it.

    `points` (v, 3), mm, x and y over the plan, z >= 0 above the foot; `triangles` (t, 3), which
    do not overlap in plan. Between the samples of a grid the surface is an upper bound of what is
    linear there. The nearest point to the front is the greatest z, that to the back the foot.
    """

    file: Path
    points: NDArray[np.float64] = field(repr=False)
    triangles: NDArray[np.int64] = field(repr=False)


Solid = Box | Cylinder | Sphere | Mesh | Prism | Heights

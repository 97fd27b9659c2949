"""Makes the drawings and the mesh of the samples: an invented wall clock.

    python samples/make_drawings.py

Everything is drawn in the blank frame of samples/clock/clock.toml, in mm.
"""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf
import numpy as np
import trimesh
from ezdxf import units

HERE = Path(__file__).parent / "clock"
MIDDLE = (160.0, 160.0)


def _ring(space, radius: float, layer: str) -> None:
    space.add_circle(MIDDLE, radius, dxfattribs={"layer": layer})


def _mark(space, angle: float, inner: float, outer: float, width: float, layer: str) -> None:
    """A slot along a ray from the middle: two sides and two round ends, as one polyline."""
    ray = np.array([math.cos(angle), math.sin(angle)])
    side = np.array([-ray[1], ray[0]]) * width / 2
    near, far = np.array(MIDDLE) + ray * inner, np.array(MIDDLE) + ray * outer
    corners = [near - side, far - side, far + side, near + side]
    bulges = [0.0, 1.0, 0.0, 1.0]
    points = [(*corner, bulge) for corner, bulge in zip(corners, bulges, strict=True)]
    space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": layer})


def _rounded_box(space, x0, y0, x1, y1, corner: float, layer: str) -> None:
    """Four lines and four arcs, drawn one by one as a drawing program leaves them."""
    attributes = {"layer": layer}
    for start, end in (
        ((x0 + corner, y0), (x1 - corner, y0)),
        ((x1, y0 + corner), (x1, y1 - corner)),
        ((x1 - corner, y1), (x0 + corner, y1)),
        ((x0, y1 - corner), (x0, y0 + corner)),
    ):
        space.add_line(start, end, dxfattribs=attributes)
    for centre, first in (
        ((x1 - corner, y0 + corner), 270),
        ((x1 - corner, y1 - corner), 0),
        ((x0 + corner, y1 - corner), 90),
        ((x0 + corner, y0 + corner), 180),
    ):
        space.add_arc(centre, corner, first, first + 90, dxfattribs=attributes)


def clock_drawing() -> ezdxf.document.Drawing:
    """Layers DIAL, HOURS, MOVEMENT, HOLLOW and EDGE."""
    drawing = ezdxf.new("R2010")
    drawing.units = units.MM
    for layer in ("DIAL", "HOURS", "MOVEMENT", "HOLLOW", "EDGE"):
        drawing.layers.add(layer)
    space = drawing.modelspace()
    _ring(space, 136.0, "DIAL")
    _ring(space, 126.0, "DIAL")
    for hour in range(12):
        long = hour % 3 == 0
        _mark(space, math.radians(30 * hour), 98.0 if long else 104.0, 118.0, 4.0, "HOURS")
    _rounded_box(space, 128.0, 128.0, 192.0, 192.0, 6.0, "MOVEMENT")
    hollow = [(196, 226), (214, 252), (206, 268), (170, 262), (146, 266), (132, 248), (150, 226)]
    space.add_spline(
        dxfattribs={"layer": "HOLLOW"},
    ).set_closed([(x, y, 0) for x, y in hollow], degree=3)
    _ring(space, 146.0, "EDGE")
    return drawing


def pebble() -> trimesh.Trimesh:
    """A lumpy pebble, about 44 x 32 x 16 mm: a sphere pushed in and out by slow waves."""
    mesh = trimesh.creation.icosphere(subdivisions=3)
    x, y, z = mesh.vertices.T
    waves = 1 + 0.06 * np.sin(3 * x + 1) + 0.05 * np.sin(4 * y) + 0.04 * np.cos(3 * z + 2 * x)
    mesh.vertices = mesh.vertices * waves[:, None] * np.array([21.0, 15.0, 8.0])
    return mesh


def main() -> None:
    HERE.mkdir(exist_ok=True)
    clock_drawing().saveas(HERE / "clock.dxf")
    pebble().export(HERE / "pebble.stl")


if __name__ == "__main__":
    main()

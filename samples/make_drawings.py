"""Makes the drawings, the mesh and the measured tops of the samples: an invented wall clock.

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


def _cog(space, middle, teeth: int, root: float, tip: float, bore: float, layer: str) -> None:
    """A cog with straight teeth, as it was sawn out of brass sheet, and its bore."""
    pitch = math.tau / teeth
    corners = []
    for tooth in range(teeth):
        for share, radius in ((-0.3, root), (-0.18, tip), (0.18, tip), (0.3, root)):
            angle = pitch * (tooth + share)
            corners.append(np.array(middle) + radius * np.array([math.cos(angle), math.sin(angle)]))
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    space.add_circle(middle, bore, dxfattribs={"layer": layer})


def clock_drawing() -> ezdxf.document.Drawing:
    """Layers DIAL, HOURS, MOVEMENT, HOLLOW, EDGE, and COG, which is a piece."""
    drawing = ezdxf.new("R2010")
    drawing.units = units.MM
    for layer in ("DIAL", "HOURS", "MOVEMENT", "HOLLOW", "EDGE", "COG"):
        drawing.layers.add(layer)
    space = drawing.modelspace()
    _ring(space, 136.0, "DIAL")
    _ring(space, 126.0, "DIAL")
    for hour in (1, 2, 4, 5, 7, 8, 10, 11):
        _mark(space, math.radians(30 * hour), 104.0, 118.0, 4.0, "HOURS")
    _rounded_box(space, 128.0, 128.0, 192.0, 192.0, 6.0, "MOVEMENT")
    hollow = [(196, 226), (214, 252), (206, 268), (170, 262), (146, 266), (132, 248), (150, 226)]
    space.add_spline(
        dxfattribs={"layer": "HOLLOW"},
    ).set_closed([(x, y, 0) for x, y in hollow], degree=3)
    _ring(space, 140.0, "EDGE")
    _cog(space, (380.0, 60.0), teeth=12, root=8.5, tip=11.0, bore=3.0, layer="COG")
    return drawing


# Strokes of the numerals, each a polygon in mm about the middle of a letter 14 mm tall, y up.
_BAR = [(-1.8, -7), (1.8, -7), (1.8, 7), (-1.8, 7)]
_V = [(-1.8, -7), (1.8, -7), (6, 7), (2.3, 7), (0, -1), (-2.3, 7), (-6, 7)]
_X = [
    *[(-6, -7), (-2.2, -7), (0, -2.6), (2.2, -7), (6, -7), (1.9, 0)],
    *[(6, 7), (2.2, 7), (0, 2.6), (-2.2, 7), (-6, 7), (-1.9, 0)],
]
_NUMERALS = {
    "XII": [(_X, -7.0), (_BAR, 2.2), (_BAR, 8.2)],
    "III": [(_BAR, -6.0), (_BAR, 0.0), (_BAR, 6.0)],
    "VI": [(_V, -3.6), (_BAR, 5.6)],
    "IX": [(_BAR, -6.0), (_X, 3.4)],
}


def numerals() -> str:
    """An SVG of the four numerals, upright, their middles 111 mm from that of the dial."""
    lines = [
        '<svg xmlns="http://www.w3.org/2000/svg" width="320mm" height="320mm"'
        ' viewBox="0 0 320 320">',
        '  <g id="numerals" transform="translate(160 160)">',
    ]
    for (name, letters), angle in zip(_NUMERALS.items(), (90, 0, 270, 180), strict=True):
        ray = math.cos(math.radians(angle)), -math.sin(math.radians(angle))
        x, y = (round(111.0 * share, 3) + 0.0 for share in ray)
        lines.append(f'    <g id="{name}" transform="translate({x:.4g} {y:.4g}) scale(1 -1)">')
        for corners, shift in letters:
            path = " L ".join(f"{cx + shift:g} {cy:g}" for cx, cy in corners)
            lines.append(f'      <path d="M {path} Z"/>')
        lines.append("    </g>")
    return "\n".join([*lines, "  </g>", "</svg>", ""])


def bark() -> str:
    """Tops of a strip of bark above its underside, mm, a sample every 2 mm, as measured by a
    depth gauge: rows from the far edge to the near one."""
    x, y = np.meshgrid(np.linspace(0, 48, 25), np.linspace(18, 0, 10))
    arch = 1.0 - (y / 9.0 - 1.0) ** 2
    tops = 3.0 + 3.5 * arch + 0.8 * np.sin(x / 3.1) * np.cos(y / 2.3) + 0.5 * np.sin(x / 7.0 + 1.0)
    return "".join(",".join(f"{top:.2f}" for top in row) + "\n" for row in np.maximum(tops, 0.0))


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
    (HERE / "numerals.svg").write_text(numerals(), encoding="utf-8")
    (HERE / "bark.csv").write_text(bark(), encoding="utf-8")


if __name__ == "__main__":
    main()

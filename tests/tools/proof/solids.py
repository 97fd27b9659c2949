"""Random embedded pieces of every kind, with the files that they are read from."""

import io
import math
import struct
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
import trimesh
from PIL import Image

from proof.nouns import Piece

UNITS = {"mm": 1.0, "cm": 10.0, "in": 25.4}


@dataclass(frozen=True)
class Made:
    """A solid's table in mm, what geometry needs of it, its height, and its file if it has one."""

    solid: dict
    shape: object
    height: float
    file: tuple[str, bytes] | None = None


def _box(rng, name, units):
    size = [float(v) for v in rng.uniform(2.0, 18.0, 3)]
    size[2] = float(rng.uniform(1.0, 12.0))
    return Made({"kind": "box", "size": size}, None, size[2])


def _cylinder(rng, name, units):
    height = float(rng.uniform(1.0, 12.0))
    solid = {"kind": "cylinder", "diameter": float(rng.uniform(1.0, 24.0)), "height": height}
    return Made(solid, None, height)


def _sphere(rng, name, units):
    size = float(rng.uniform(1.0, 14.0))
    return Made({"kind": "sphere", "diameter": size}, None, size)


def _prism(rng, name, units):
    outline, area = [_rect, _circle, _polygon, _slot][rng.integers(4)](rng)
    height = float(rng.uniform(1.0, 12.0))
    return Made({"kind": "prism", "outline": outline, "height": height}, area, height)


def _rect(rng):
    x, y = (float(v) for v in rng.uniform(-50.0, 50.0, 2))
    w, h = (float(v) for v in rng.uniform(3.0, 18.0, 2))
    corner = float(rng.uniform(0.1, 0.49) * min(w, h)) if rng.random() < 0.5 else 0.0
    inner = shapely.box(x + corner, y + corner, x + w - corner, y + h - corner)
    return {"rect": [x, y, x + w, y + h], "corner": corner}, inner.buffer(corner, quad_segs=96)


def _circle(rng):
    x, y, radius = 3.0, -70.0, float(rng.uniform(1.0, 9.0))
    return {"circle": [x, y, radius]}, shapely.Point(x, y).buffer(radius, quad_segs=96)


def _slot(rng):
    ends, width = rng.uniform(0.0, 14.0, (2, 2)), float(rng.uniform(1.0, 7.0))
    area = shapely.LineString(ends).buffer(width / 2.0, quad_segs=96)
    return {"slot": [*(float(v) for v in ends.ravel()), width]}, area


def _polygon(rng):
    """A star that need not be convex."""
    while True:
        count = rng.integers(3, 10)
        angle = np.sort(rng.uniform(0.0, math.tau, count))
        radius = rng.uniform(2.0, 11.0, count)
        xy = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
        area = shapely.Polygon(xy)
        if area.is_valid and area.area > 6.0 and area.buffer(-0.4).geom_type == "Polygon":
            return {"polygon": [[float(x), float(y)] for x, y in xy]}, area


def _mesh(rng, name, units):
    mesh = [_pebble, _pebble, _block, _ring][rng.integers(4)](rng)
    unit = str(rng.choice(list(UNITS)))
    scale = float(rng.choice([1.0, 1.0, 0.5, 2.0]))
    raw = np.float32(mesh.vertices / UNITS[unit] / scale)
    faces = np.asarray(mesh.faces)
    tilt = [float(v) for v in rng.uniform(-180.0, 180.0, 2)] if rng.random() < 0.7 else [0.0, 0.0]
    form, data = ("obj", _obj(raw, faces)) if rng.random() < 0.5 else ("stl", _stl(raw, faces))
    solid = {"kind": "mesh", "file": f"{name}.{form}", "unit": unit, "scale": scale, "tilt": tilt}
    shape = (raw.astype(float) * (UNITS[unit] * scale), faces)
    return Made(solid, shape, math.nan, (f"{name}.{form}", data))


def _pebble(rng):
    mesh = trimesh.creation.icosphere(subdivisions=int(rng.integers(1, 3)))
    way = rng.normal(size=(4, 3))
    bumps = 1.0 + 0.12 * np.sin(2.0 * mesh.vertices @ way.T).sum(axis=1) / 2.0
    mesh.vertices = mesh.vertices * bumps[:, None] * rng.uniform(1.5, 7.0, 3)
    return mesh


def _block(rng):
    return trimesh.creation.box(extents=rng.uniform(2.0, 12.0, 3))


def _ring(rng):
    tube = float(rng.uniform(0.8, 2.5))
    return trimesh.creation.torus(
        tube + float(rng.uniform(0.8, 6.0)), tube, major_sections=20, minor_sections=10
    )


def _obj(points, faces) -> bytes:
    lines = [f"v {float(x)!r} {float(y)!r} {float(z)!r}" for x, y, z in points]
    lines += [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in faces]
    return "\n".join([*lines, ""]).encode()


def _stl(points, faces) -> bytes:
    """Binary: 80 bytes of header, a count, then 50 bytes a facet."""
    record = np.zeros(len(faces), dtype=[("n", "<f4", (3,)), ("v", "<f4", (3, 3)), ("a", "<u2")])
    record["v"] = points[faces]
    return bytes(80) + struct.pack("<I", len(faces)) + record.tobytes()


def _heights(rng, name, units):
    rows, columns = rng.integers(3, 9, 2)
    size = [float(v) for v in rng.uniform(4.0, 18.0, 2)]
    tops = rng.uniform(0.0, 1.0, (rows, columns))
    if rng.random() < 0.5:  # smooth
        x, y = np.meshgrid(np.linspace(0, 1, columns), np.linspace(0, 1, rows))
        tops = 0.5 + 0.5 * np.sin(x * rng.uniform(1, 5) + rng.uniform(0, 6)) * np.cos(3 * y)
    low, high = float(rng.uniform(0.5, 2.0)), float(rng.uniform(2.5, 9.0))
    solid = {"kind": "heights", "size": size}
    form = str(rng.choice(["csv", "npy", "png", "png16"]))
    if form in ("csv", "npy"):
        z = low + (high - low) * tops
        numbers = z / units
        text = "\n".join(",".join(repr(float(v)) for v in row) for row in numbers)
        data = text.encode() if form == "csv" else _saved(numbers)
    else:
        full = 255 if form == "png" else 65535
        levels = np.rint(tops * full).astype(np.uint8 if form == "png" else np.uint16)
        z = low + (high - low) * levels / full
        solid |= {"low": low, "high": high}
        data, form = _picture(levels), "png"
    solid["file"] = f"{name}.{form}"
    shape = closed(z[::-1], size)  # the first row of a file is the largest y
    return Made(solid, shape, float(z.max()), (f"{name}.{form}", data))


def _saved(numbers) -> bytes:
    stream = io.BytesIO()
    np.save(stream, numbers)
    return stream.getvalue()


def _picture(levels) -> bytes:
    stream = io.BytesIO()
    Image.fromarray(levels).save(stream, format="PNG")
    return stream.getvalue()


def closed(z: np.ndarray, size: list[float]) -> tuple[np.ndarray, np.ndarray]:
    """Corners and triangles of tops (row along +y) over a flat foot: of the two ways to fold the
    square between four samples the higher (docs/job-file.md)."""
    rows, columns = z.shape
    x, y = np.meshgrid(np.linspace(0.0, size[0], columns), np.linspace(0.0, size[1], rows))
    top = np.column_stack([x.ravel(), y.ravel(), z.ravel()])
    number = np.arange(rows * columns).reshape(rows, columns)
    under, faces = rows * columns, []
    for j in range(rows - 1):
        for i in range(columns - 1):
            a, b = number[j, i], number[j, i + 1]
            d, c = number[j + 1, i], number[j + 1, i + 1]
            if z[j, i] + z[j + 1, i + 1] > z[j, i + 1] + z[j + 1, i]:
                two = [(a, b, c), (a, c, d)]
            else:
                two = [(a, b, d), (b, c, d)]
            faces += two + [(one + under, three + under, two_ + under) for one, two_, three in two]
    edge = [*number[0], *number[1:, -1], *number[-1, -2::-1], *number[-2:0:-1, 0]]
    for one, two in zip(edge, [*edge[1:], edge[0]], strict=True):
        faces += [(one, one + under, two), (two, one + under, two + under)]
    return np.concatenate([top, top * [1.0, 1.0, 0.0]]), np.array(faces)


KINDS: dict[str, Callable[..., Made]] = {
    "box": _box,
    "cylinder": _cylinder,
    "sphere": _sphere,
    "prism": _prism,
    "mesh": _mesh,
    "heights": _heights,
}


def random_piece(rng, kind, name, units, box, thickness) -> tuple[Piece, tuple[str, bytes] | None]:
    """A piece somewhere in the middle of the blank, with or without drift."""
    made = KINDS[kind](rng, name, units)
    drifts = rng.random() < 0.6
    triangles = kind in ("mesh", "heights")
    swing = float(rng.uniform(0.0, 4.0 if triangles else 25.0)) if rng.random() < 0.5 else 0.0
    if not triangles and rng.random() < 0.05:
        swing = float(rng.uniform(25.0, 180.0))
    x0, y0, x1, y1 = box
    share = rng.uniform(0.35, 0.65, 2)
    piece = Piece(
        name=name,
        solid=made.solid,
        shape=made.shape,
        at=(float(x0 + share[0] * (x1 - x0)), float(y0 + share[1] * (y1 - y0))),
        face=str(rng.choice(["front", "back"])),
        depth=float(rng.uniform(0.5, 14.0)),
        turn=float(rng.uniform(-180.0, 180.0)),
        side=float(rng.uniform(0.0, 1.5)) if drifts and rng.random() < 0.8 else 0.0,
        rise=float(rng.uniform(0.0, 1.0)) if drifts and rng.random() < 0.8 else 0.0,
        swing=swing if drifts else 0.0,
    )
    return piece, made.file

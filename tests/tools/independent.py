"""A second, very small reader of emitted programs, and frames from the contract's words.

It shares no code with toolpath: regular expressions, and the formulas written down again.
"""

import math
import re
from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Point
from shapely.ops import unary_union


@dataclass
class Feed:
    """A feed move as a dense polyline (n, 3), program frame, mm."""

    points: np.ndarray
    rapid: bool


def read(text: str) -> list[Feed]:
    """Moves of a program that our writer made, as dense polylines (0.05 mm on arcs)."""
    scale = 25.4 if "G20" in text else 1.0
    place: dict[str, float] = {}
    moves: list[Feed] = []
    mode = None
    for line in text.splitlines():
        line = re.sub(r"\(.*?\)", "", line)
        words = {w[0]: float(w[1:]) for w in re.findall(r"[XYZIJF][-+.\d]+", line)}
        found = re.findall(r"\bG0?([0123])\b(?!\.)", line)
        mode = int(found[-1]) if found else mode
        if not {"X", "Y", "Z"} & set(words):
            continue
        start = dict(place)
        place.update({k: words[k] * scale for k in "XYZ" if k in words})
        if set(start) < {"X", "Y", "Z"}:
            continue
        a = np.array([start[k] for k in "XYZ"])
        b = np.array([place[k] for k in "XYZ"])
        if mode in (2, 3):
            points = arc(a, b, words.get("I", 0) * scale, words.get("J", 0) * scale, mode == 2)
        else:
            points = np.stack([a, b])
        moves.append(Feed(points=points, rapid=mode == 0))
    return moves


def arc(a: np.ndarray, b: np.ndarray, i: float, j: float, clockwise: bool) -> np.ndarray:
    centre = a[:2] + np.array([i, j])
    first = math.atan2(a[1] - centre[1], a[0] - centre[0])
    last = math.atan2(b[1] - centre[1], b[0] - centre[0])
    sweep = (first - last) % (2 * math.pi) if clockwise else (last - first) % (2 * math.pi)
    sweep = sweep if sweep > 1e-9 else 2 * math.pi
    radius = math.hypot(i, j)
    count = max(2, int(radius * sweep / 0.05))
    t = np.linspace(0, 1, count)
    angle = first + (-sweep if clockwise else sweep) * t
    z = a[2] + (b[2] - a[2]) * t
    xy = centre + radius * np.column_stack([np.cos(angle), np.sin(angle)])
    return np.column_stack([xy, z])


def to_blank(points: np.ndarray, face: str, turning: str, zero: str, box, thickness) -> np.ndarray:
    """Program frame to blank frame, from the contract's words."""
    x0, y0, x1, y1 = box
    width, height = x1 - x0, y1 - y0
    shift = {
        "lower-left": (0, 0),
        "lower-right": (width, 0),
        "upper-left": (0, height),
        "upper-right": (width, height),
        "centre": (width / 2, height / 2),
    }[zero]
    seen = points[:, :2] + shift  # from the lower left corner as seen from that face
    x, y, z = seen[:, 0], seen[:, 1], points[:, 2]
    if face == "front":
        return np.column_stack([x0 + x, y0 + y, z])
    if turning == "left-right":
        return np.column_stack([x1 - x, y0 + y, -thickness - z])
    return np.column_stack([x0 + x, y1 - y, -thickness - z])


def swept(moves: list[Feed], radius: float, below: float):
    """Area swept at or below a height by feed moves, program frame."""
    areas = []
    for move in moves:
        if move.rapid or move.points[:, 2].max() > below + 1e-6:
            continue
        xy = move.points[:, :2]
        still = np.ptp(xy, axis=0).max() < 1e-9
        shape = Point(xy[0]) if still else LineString(xy)
        areas.append(shape.buffer(radius, quad_segs=64))
    return unary_union(areas)

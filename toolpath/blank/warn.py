"""What looks wrong about the pieces of a job and stops nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from toolpath.blank.frames import bounds_of
from toolpath.blank.placed import footprint_area, placed_vertices, z_range
from toolpath.drawing.outline import Err
from toolpath.job.model import Blank, Job, Mesh, Piece, Sphere, Warned
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

MOST_PAIRS = 1_000
"""Pairs of pieces that are looked at for an overlap: more tell a person nothing."""

_SMALL = 2.0
_LEAST = 0.005
"""Overlaps and overhangs under this (mm) are the rounding of drawings and flattened arcs."""


def piece_warnings(job: Job) -> tuple[Warned, ...]:
    """Warnings about pieces at their stated places, without drift.

    Two that overlap, one that sticks out of the blank, a mesh that is not watertight, a mesh of
    an unlikely size. Spheres against anything are exact; a mesh counts as the convex hull of its
    footprint over its whole height and measured tops stand over their whole height, so that a
    warning about one may be a needless one.
    """
    named = [(f'piece[{n}] "{piece.name}"', piece) for n, piece in enumerate(job.pieces, 1)]
    areas = [footprint_area(piece) for piece in job.pieces]
    found: list[Warned] = []
    for (where, piece), area in zip(named, areas, strict=True):
        found += [Warned(where=where, message=text) for text in _alone(job.blank, piece, area)]
    for count, (i, j) in enumerate(_close(areas)):
        (where, one), (other, two) = named[i], named[j]
        if count == MOST_PAIRS:
            text = f"more than {MOST_PAIRS} pairs of pieces lie over each other: check at and step"
            found.append(Warned(where=where, message=text))
            break
        text = _overlap(job.blank, (one, two), (areas[i], areas[j]))
        if text:
            found.append(Warned(where=where, message=f"overlaps {other} {text}"))
    return tuple(found)


def _close(areas: Sequence[shapely.Geometry]) -> Iterator[tuple[int, int]]:
    """The pairs of pieces whose boxes in plan touch, in order: no others can overlap."""
    tree = shapely.STRtree(np.array(areas, dtype=object))
    for i, area in enumerate(areas):
        yield from ((i, int(j)) for j in np.sort(tree.query(area)) if i < j)


def _alone(blank: Blank, piece: Piece, area: shapely.Geometry) -> list[str]:
    texts = [*_out_of_plan(blank, area), *_out_of_faces(blank, piece)]
    if isinstance(piece.solid, Mesh):
        texts += _mesh_texts(blank, piece, piece.solid)
    return texts


def _out_of_plan(blank: Blank, area: shapely.Geometry) -> list[str]:
    outline = blank.outline.polygon(TOLERANCES.flatten, Err.OUTWARD)
    points = shapely.points(shapely.get_coordinates(area))
    far = float(shapely.distance(outline, points).max())
    if far <= _LEAST:
        return []
    return [f"sticks out of the blank's outline by {show_mm(far)}: check at and the solid's size"]


def _out_of_faces(blank: Blank, piece: Piece) -> list[str]:
    bottom, top = z_range(blank, piece)
    texts = []
    for face, by in (("front", top), ("back", -blank.thickness - bottom)):
        if by > _LEAST:
            texts.append(
                f"sticks out of the {face} face by {show_mm(by)} (blank {show_mm(blank.thickness)} "
                f"thick, piece {show_mm(top - bottom)} high): check from_front or from_back"
            )
    return texts


def _mesh_texts(blank: Blank, piece: Piece, mesh: Mesh) -> list[str]:
    texts = []
    if not mesh.watertight:
        texts.append(
            f"{mesh.file.name} is not watertight: its convex hull is kept clear instead, "
            "which may cost room; close its holes to have its true form"
        )
    side = float(np.ptp(placed_vertices(piece), axis=0).max())
    low, high = bounds_of(blank.outline)
    half = max(high[0] - low[0], high[1] - low[1]) / 2.0
    if side < _SMALL:
        texts.append(
            f"{mesh.file.name} is only {show_mm(side)} on its largest side (limit "
            f"{show_mm(_SMALL)}): check unit and scale (in inches it would be "
            f"{show_mm(side * 25.4)})"
        )
    elif side > half:
        texts.append(
            f"{mesh.file.name} is {show_mm(side)} on its largest side, over half the blank "
            f"({show_mm(half)}): check unit and scale"
        )
    return texts


def _overlap(
    blank: Blank,
    pieces: tuple[Piece, Piece],
    areas: tuple[shapely.Geometry, shapely.Geometry],
) -> str:
    """By how much two pieces overlap, in words; empty if they do not."""
    one, two = (z_range(blank, piece) for piece in pieces)
    height = min(one[1], two[1]) - max(one[0], two[0])
    if height <= _LEAST:
        return ""
    sphere = _sphere_overlap(blank, pieces, areas)
    if sphere is not None:
        return f"by {show_mm(sphere)}: check at and the depths" if sphere > _LEAST else ""
    shared = shapely.intersection(*areas)
    if shapely.area(shared) <= _LEAST * shapely.length(shared) / 2.0:
        return ""
    hull = any(isinstance(piece.solid, Mesh) for piece in pieces)
    note = " (a mesh counted as the hull of its footprint)" if hull else ""
    return (
        f"by {show_mm(height)} in height over {shapely.area(shared):.1f} mm² in plan{note}: "
        "check at and the depths"
    )


def _sphere_overlap(
    blank: Blank,
    pieces: tuple[Piece, Piece],
    areas: tuple[shapely.Geometry, shapely.Geometry],
) -> float | None:
    """How deep a sphere reaches into the other piece; None where neither is one.

    Against another sphere by their middles, else by the distance of its middle to the upright
    body over the other's footprint.
    """
    spheres = [n for n in (0, 1) if isinstance(pieces[n].solid, Sphere)]
    if not spheres:
        return None
    mine = spheres[0]
    bottom, top = z_range(blank, pieces[mine])
    radius, middle = (top - bottom) / 2.0, (top + bottom) / 2.0
    low, high = z_range(blank, pieces[1 - mine])
    if len(spheres) == 2:
        apart = math.dist((*pieces[0].at, middle), (*pieces[1].at, (low + high) / 2.0))
        return radius + (high - low) / 2.0 - apart
    aside = float(shapely.distance(shapely.Point(pieces[mine].at), areas[1 - mine]))
    above = max(low - middle, middle - high, 0.0)
    return radius - math.hypot(aside, above)

"""What the form of a cutter lets it reach of what stands over a relief.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.field.carve import carve, radii_of
from toolpath.job.model import Cutter
from toolpath.plan.relief_left import Left
from toolpath.plan.relief_levels import LEAST
from toolpath.plan.relief_steps import OVER
from toolpath.plan.target import Target, form_of, rise
from toolpath.units import Unit, show_area, show_mm

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


def reach(left: Left, target: Target, wanted: BoolArray) -> FloatArray:
    """(rows, columns) the least that a cutter can leave about wanted nodes: it stood everywhere."""
    cutter = target.cutter
    near = left.area_of(wanted, cutter.radius).intersection(target.roam)
    shapely.prepare(near)
    places = left.places[shapely.contains_xy(near, left.places[:, 0], left.places[:, 1])]
    tips = np.maximum(target.found(places).tips, -left.cut.depth)
    best = replace(left.nodes, z=np.full(left.nodes.z.shape, np.inf))
    rises = rise(form_of(cutter), radii_of(cutter.radius))
    carve(best, np.column_stack([places, tips]), rises, cutter.radius)
    return best.z


def split(left: Left, target: Target) -> tuple[BoolArray, BoolArray]:
    """(rows, columns) where something stands that a cutter reaches, and that it does not."""
    standing = left.standing()
    if not standing.any():
        return standing, standing
    over = left.nodes.z > left.allowed_over(reach(left, target, standing))
    return standing & over, standing & ~over


def thick(left: Left, target: Target, cutter: Cutter) -> BaseGeometry:
    """Where more stands than a cutter may take at once, over what it leaves at best; empty if it
    is a speck."""
    most = cutter.stepdown + OVER
    which = np.asarray(left.over > most)
    if which.any():
        which &= left.nodes.z - reach(left, target, which) > most
    if float(which.sum()) * left.nodes.step**2 <= LEAST:
        return Polygon()
    return left.area_of(which, 0.0)


def uncut(left: Left, target: Target, unit: Unit) -> tuple[float, list[str]]:
    """What stands although a cutter could have got there, mm², and words on what it could not
    reach: over which piece the floor rises, and what the form of the cutter leaves."""
    standing, beyond = split(left, target)
    found, words = float(standing.sum()) * left.nodes.step**2, []
    for name, risen in _risen(left, target, beyond):
        area = _area_of(left, risen > 0.0)
        if area >= LEAST:
            beyond = beyond & (risen <= 0.0)
            told = (
                f"{show_area(area, unit)} stay higher for it, by up to {_most(left, risen, unit)}"
            )
            words.append(f'the floor rises over "{name}": {told}')
    area = _area_of(left, beyond)
    if area >= LEAST:
        over = np.where(beyond, left.over, 0.0)
        words.append(
            f"{show_area(area, unit)} are out of reach of the form of {target.cutter.name} and "
            f"stay higher than drawn, by up to {_most(left, over, unit)}; the widest of it "
            f"is {_widest(left, beyond, unit)}: a smaller cutter after it gets further in"
        )
    return found, words


def _risen(left: Left, target: Target, beyond: BoolArray) -> list[tuple[str, FloatArray]]:
    """The pieces that keep the cutter from what its form would let it reach, and by how much each
    does so at the nodes (rows, columns) where no other does so more; 0 elsewhere."""
    if target.pieces is None or not beyond.any():
        return []
    alone = reach(left, replace(target, pieces=None), beyond)
    over = beyond & (left.nodes.z > left.allowed_over(alone))
    if not over.any():
        return []
    names, tops = target.pieces.names, target.pieces.tops
    by_one = [
        replace(target, pieces=replace(target.pieces, names=(name,), tops=(top,)))
        for name, top in zip(names, tops, strict=True)
    ]
    most = np.argmax([reach(left, each, over) for each in by_one], axis=0)
    risen = np.where(over, left.nodes.z - alone, 0.0)
    return [(name, np.where(most == k, risen, 0.0)) for k, name in enumerate(names)]


def _area_of(left: Left, which: BoolArray) -> float:
    return float(which.sum()) * left.nodes.step**2


def _most(left: Left, over: FloatArray, unit: Unit) -> str:
    """The most of heights at the nodes (rows, columns), and where, in words."""
    worst = np.unravel_index(int(over.argmax()), over.shape)
    x, y = left.places.reshape(*over.shape, 2)[worst]
    return f"{show_mm(round(float(over[worst]), 2), unit)} at x {x:.1f} y {y:.1f}"


def _widest(left: Left, which: BoolArray, unit: Unit) -> str:
    """How wide chosen nodes lie together, and where, in words."""
    inward = ndimage.distance_transform_edt(np.pad(which, 1))[1:-1, 1:-1]
    widest = np.unravel_index(int(inward.argmax()), which.shape)
    wide = show_mm(round((2.0 * float(inward[widest]) - 1.0) * left.nodes.step, 1), unit)
    x, y = left.places.reshape(*which.shape, 2)[widest]
    return f"{wide} across, at x {x:.1f} y {y:.1f}"

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
    reach."""
    standing, beyond = split(left, target)
    square = left.nodes.step**2
    found, area = float(standing.sum()) * square, float(beyond.sum()) * square
    if area < LEAST:
        return found, []
    over = np.where(beyond, left.over, 0.0)
    inward = ndimage.distance_transform_edt(np.pad(beyond, 1))[1:-1, 1:-1]
    places = left.places.reshape(*beyond.shape, 2)
    worst, widest = (np.unravel_index(int(each.argmax()), beyond.shape) for each in (over, inward))
    high = show_mm(round(float(over[worst]), 2), unit)
    wide = show_mm(round((2.0 * float(inward[widest]) - 1.0) * left.nodes.step, 1), unit)
    (x, y), (u, v) = places[worst], places[widest]
    return found, [
        f"{show_area(area, unit)} are out of reach of the form of {target.cutter.name} and stay "
        f"higher than drawn, by up to {high} at x {x:.1f} y {y:.1f}; the widest of it is {wide} "
        f"across, at x {u:.1f} y {v:.1f}: a smaller cutter after it gets further in"
    ]

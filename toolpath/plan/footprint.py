"""What a cut takes in plan, with the room of its shank.

Frame: x, y of the blank frame, millimetres. Errs outward.
"""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from toolpath.drawing.outline import Err
from toolpath.job.model import Cut, Drill, Pocket, Relief, Skim
from toolpath.plan.rings import flat_area
from toolpath.tolerances import TOLERANCES


def footprint(cut: Cut) -> BaseGeometry:
    """The area that the cutters of a cut take, and their shanks."""
    wide = max(max(cutter.radius, cutter.shank / 2.0) for cutter in cut.cutters)
    if isinstance(cut, Drill):
        return shapely.MultiPoint(cut.at).buffer(max(wide, cut.diameter / 2.0))
    inside = flat_area(cut.outline, TOLERANCES.flatten, Err.OUTWARD)
    if isinstance(cut, Pocket):
        beyond = wide - min(cutter.radius for cutter in cut.cutters)
        ledge = cut.ledge.outline if cut.ledge else ()
        return inside.union(flat_area(ledge, TOLERANCES.flatten, Err.OUTWARD)).buffer(beyond)
    if isinstance(cut, Relief):
        return inside.buffer(wide)
    if isinstance(cut, Skim):
        return inside.buffer(2.0 * wide)
    return inside.boundary.buffer(2.0 * wide + cut.finish)

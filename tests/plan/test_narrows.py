"""Narrow places of bounded ways, measured on the emitted text by a raster that shares no code."""

import numpy as np
import pytest
from engagement import trace

from tests.plan.test_bounded import planned, text_of
from toolpath.drawing.outline import Loop, Region
from toolpath.drawing.shapes import rect
from toolpath.motion.moves import Kind

WEDGE = [(0, 0), (56, 12.0), (56, 18.6), (0, 30)]
CASES = {
    "to a dead end": (rect(0, 0, 30, 30), rect(29, 11, 52, 19)),
    "from room to room": (rect(0, 0, 30, 30), rect(29, 11, 46, 19), rect(45, 0, 75, 30)),
    "little wider than the cutter": (rect(0, 0, 30, 30), rect(29, 12, 45, 18.6)),
    "ever narrower": (Region(outer=Loop.of_polygon(WEDGE)),),
}


@pytest.mark.parametrize("name", CASES)
def test_a_narrow_place_keeps_the_bound_at_full_depth(shop, judge, name):
    part = planned(shop, CASES[name], depth=6.0, stepdown=6.0)
    met = trace(text_of([part]), part.cutter.radius)
    assert met.share_within(75.0) >= 0.99
    # In the square corners of an end the rim meets all of a corner for a moment.
    assert met.length[met.cutting & (met.angle > 85.0)].sum() <= 2.0, met.worst_place()
    judged = judge(part)
    assert judged.uncut_share(-6.0) <= 2e-4
    assert judged.overcut() <= 0.003
    judged.assert_way_is_whole()


@pytest.mark.parametrize("name", ["to a dead end", "from room to room"])
def test_a_narrow_place_is_entered_from_what_was_cleared(shop, name):
    # The channel reaches from x 30 to 45; a cutter of radius 3 in it stands between 33 and 42.
    part = planned(shop, CASES[name], depth=6.0, stepdown=6.0)
    down = [m for m in part.moves if m.kind is not Kind.RAPID and m.end[2] < m.start[2] - 0.31]
    spots = np.array([move.end for move in down])
    assert len(spots) and not ((spots[:, 0] > 34.0) & (spots[:, 0] < 42.0)).any()


def test_what_has_no_room_for_a_loop_is_a_slot_that_is_told(shop, judge):
    outline = (rect(0, 0, 30, 30), rect(29, 12, 45, 18.1))
    part = planned(shop, outline, depth=6.0, stepdown=6.0)
    assert judge(part).uncut_share(-6.0) <= 2e-4
    halfway = [m for m in part.moves if m.end[2] == m.start[2] and abs(m.end[2] + 3.0) < 1e-6]
    assert sum(m.length for m in halfway) > 10.0, {m.end[2] for m in part.moves}

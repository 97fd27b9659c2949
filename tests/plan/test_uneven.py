"""What a skim leaves of a measured face, by elementary geometry."""

import pytest
import shapely

from toolpath.job.model import Surface
from toolpath.plan.uneven import stays_uncut

BLANK = shapely.box(0, 0, 200, 100)
NINE = [(x, y) for x in (0.0, 100.0, 200.0) for y in (0.0, 50.0, 100.0)]


def surface(height):
    return Surface(places=tuple(NINE), heights=tuple(height(x, y) for x, y in NINE))


@pytest.mark.parametrize(("depth", "share"), [(0.5, 0.5), (0.25, 0.75), (1.2, 0.0)])
def test_what_lies_lower_than_the_new_face_stays(depth, share):
    # The face falls by 1 mm along x: at depth d it lies lower beyond 200 d.
    tilted = surface(lambda x, y: -x / 200.0)
    area, deepest = stays_uncut(tilted, BLANK, depth)
    assert area == pytest.approx(share * 200 * 100, abs=200)
    assert deepest == pytest.approx(max(0.0, 1.0 - depth), abs=0.01)


def test_a_hollow_middle_stays():
    # Flat triangles down to 0.8 in the middle: a pyramid over the diamond of the next places at
    # least (half the blank), over all of it at most. Half as deep it is a quarter as large.
    hollow = surface(lambda x, y: -0.8 if (x, y) == (100.0, 50.0) else 0.0)
    area, deepest = stays_uncut(hollow, BLANK, 0.4)
    assert 0.95 * 10000 / 4 < area < 1.05 * 20000 / 4
    assert deepest == pytest.approx(0.4, abs=0.02)

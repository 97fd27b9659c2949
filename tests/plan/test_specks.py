import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from toolpath.plan.legs import Kind, Walk
from toolpath.plan.near import Cells, Near
from toolpath.plan.returns import Heading, Within
from toolpath.plan.specks import visit_specks

AREA = box(3, 3, 47, 32)


@pytest.mark.parametrize("bit", [Point(20, 15).buffer(0.4), box(30.0, 20.0, 30.5, 20.04)])
def test_a_bit_of_any_size_is_visited(bit):
    gone = box(0, 0, 50, 35).difference(bit)
    cells = Cells.over(AREA, 3.0)
    at = Heading(x=10.0, y=10.0, angle=0.0)
    near = Near.fresh(cells, 3.0, gone)
    walk = Walk(near=near, room=Within.of(cells, AREA), foot=np.array([[10.0, 10.0]]), at=at)
    visit_specks(walk, AREA, gone)
    cuts = [LineString(leg.points).buffer(3.0) for leg in walk.legs if leg.kind is Kind.CUT]
    assert cuts and any(cut.covers(bit) for cut in cuts)
    assert not any(leg.kind is Kind.LIFT for leg in walk.legs)

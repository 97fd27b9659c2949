import math

import numpy as np
from shapely.geometry import Point, box

from toolpath.plan.legs import Kind, Walk
from toolpath.plan.near import Cells, Near
from toolpath.plan.returns import Heading, Within

AREA = box(3, 3, 47, 32)


def walk_in(gone, longest=math.inf):
    cells = Cells.over(AREA, 3.0)
    near = Near.fresh(cells, 3.0, gone)
    at = Heading(x=10.0, y=10.0, angle=0.0)
    foot = np.array([[10.0, 10.0]])
    return Walk(near=near, room=Within.of(cells, AREA), foot=foot, at=at, longest=longest)


def test_a_way_that_is_too_long_is_a_lift_that_comes_down_beside_the_wall():
    walk = walk_in(box(0, 0, 50, 35), longest=12.0)
    walk.go_to(Heading(x=15.0, y=10.0, angle=0.0))
    walk.at = Heading(x=15.0, y=10.0, angle=0.0)
    walk.go_to(Heading(x=30.0, y=3.0, angle=0.0))
    assert [leg.kind for leg in walk.legs] == [Kind.RETURN, Kind.LIFT]
    down, into = walk.legs[1].points
    assert into.tolist() == [30.0, 3.0]
    # 0.3 mm of air all round the cutter, as every rapid below the face has.
    assert Point(down).buffer(3.3).within(box(0, 0, 50, 35))


def test_where_there_is_no_room_beside_it_comes_down_in_the_place_itself():
    walk = walk_in(box(0, 0, 50, 6.1))
    walk.go_to(Heading(x=30.0, y=3.0, angle=0.0))
    walk.longest = 1.0
    walk.go_to(Heading(x=30.0, y=3.0, angle=0.0))
    assert walk.legs[-1].kind is Kind.LIFT
    assert np.ptp(walk.legs[-1].points, axis=0).max() == 0.0


def test_what_begins_where_it_stands_is_cut_without_a_way_there():
    walk = walk_in(box(0, 0, 50, 35))
    line = np.array([[10.0, 10.0], [20.0, 10.0]])
    walk.cut_straight(Kind.WALL, line)
    walk.cut_straight(Kind.WALL, line[::-1] + 1e-9)
    assert [leg.kind for leg in walk.legs] == [Kind.WALL, Kind.WALL]

import numpy as np
import shapely
from shapely.geometry import box

from toolpath.plan.near import Cells, Near
from toolpath.plan.places import places_of
from toolpath.plan.returns import Within

RADIUS = 2.0
AREA = box(2, 2, 58, 38)


def found(gone):
    cells = Cells.over(AREA, RADIUS)
    near = Near.fresh(cells, RADIUS, gone)
    return cells, places_of(near, Within.of(cells, AREA).depth)


def test_round_corners_are_a_place_each():
    gone = box(5, 5, 55, 35).buffer(5, quad_segs=64)
    cells, places = found(gone)
    can = AREA.buffer(RADIUS, quad_segs=64)
    left = can.difference(gone)
    assert len(places) == 4
    for place in places:
        assert sum(part.distance(shapely.points(place.spots[0])) < 0.1 for part in left.geoms) == 1
        assert place.mask(cells).sum() == len(place.spots)
        # Cells against the area that shapely knows: the same to a row of cells along its edge.
        part = min(left.geoms, key=lambda each: each.distance(shapely.points(place.spots[0])))
        area = len(place.spots) * cells.size**2
        assert abs(area - part.area) < cells.size * part.length


def test_what_stands_near_each_other_is_one_place():
    gone = box(0, 0, 60, 40).difference(box(20, 18, 22, 20))
    assert len(found(gone.difference(box(23.5, 18, 25, 20)))[1]) == 1
    assert len(found(gone.difference(box(26.0, 18, 28, 20)))[1]) == 2


def test_where_all_is_gone_there_is_no_place():
    assert found(box(0, 0, 60, 40))[1] == []


def test_what_lies_in_the_box_of_a_place():
    (place,) = found(box(0, 0, 60, 40).difference(box(20, 18, 22, 20)))[1]
    x0, y0, x1, y1 = place.box(1.0)
    assert np.allclose([x0, y0, x1, y1], [19, 17, 23, 21], atol=0.1)
    points = np.array([[21.0, 19.0], [22.9, 20.9], [24.0, 19.0]])
    assert place.holds(points, 1.0).tolist() == [True, True, False]
    assert abs(place.apart(np.array([25.0, 19.0])) - 3.0) < 0.1

import pytest
import shapely

from toolpath.job.model import Side
from toolpath.show.pieces import Line
from toolpath.show.section_stock import stock_along
from toolpath.show.seen import seen_from


def along_x(scene, side, y):
    seen = seen_from(scene.job, side)
    x0, y0 = seen.point(0, y)
    direction = (seen.mirror[0], 0.0)
    line = Line(origin=(x0, y0), direction=direction)
    return stock_along(scene, scene.job, seen, line)


def test_emitted_moves_make_the_floors_of_both_faces(scene):
    stock, removed = along_x(scene, Side.FRONT, 140)
    # At y = 140: hands 170..230 to 6 deep, the movement 165..235 to 24 from the back, a groove of
    # 8 at 90 and 310 to 5 from the back, a hole of 8 through the middle.
    assert removed.area == pytest.approx(60 * 6 + 70 * 24 + 2 * 8 * 5 + 8 * 12, rel=0.02)
    assert stock.area + removed.area == pytest.approx(400 * 42, rel=1e-6)
    assert removed.contains(shapely.Point(100 - 10 + 0.5, -41))


def test_the_other_face_up_is_the_same_section_upside_down(scene):
    front, _ = along_x(scene, Side.FRONT, 140)
    back, _ = along_x(scene, Side.BACK, 140)
    turned = shapely.transform(back, lambda p: p * [1, -1] + [0, -42])
    assert front.symmetric_difference(turned).area < 0.01 * front.area


def test_a_cut_without_moves_is_drawn_as_asked_for(refused):
    # The hanger, 60..140 wide and 9 deep from the back, found no way in.
    _, removed = along_x(refused, Side.FRONT, 248)
    low = shapely.intersection(removed, shapely.box(0, -42, 145, -30))
    assert low.area == pytest.approx(80 * 9, rel=0.01)

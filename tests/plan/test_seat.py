import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import Point

from toolpath.drawing.outline import Err, Loop, Region
from toolpath.drawing.shapes import circle, polygon, rect
from toolpath.errors import DrawingError, InternalError
from toolpath.job.model import Ledge, Plate, Sheet, Side, Skim
from toolpath.plan.seat import closed, fitted_ledge, ledge_of, lies, opened, region_of, seat_of

ELL = [(0, 0), (80, 0), (80, 30), (30, 30), (30, 70), (0, 70)]


@pytest.fixture
def plate(shop):
    def make(outline, cavity, *, diameter=6.0, plate_diameter=6.0, gap=0.25, islands=()):
        cut = shop.pocket(cavity, depth=20.0, diameter=diameter, islands=islands)
        outlines = outline if isinstance(outline, tuple) else (outline,)
        cut = replace(cut, ledge=Ledge(outline=outlines, depth=3.0))
        return Plate(
            cut=cut,
            gap=gap,
            cutter=shop.cutter(diameter=plate_diameter, name="plate"),
            sheet=Sheet(size=(200.0, 150.0), thickness=3.1),
        )

    return make


def test_lies_proud_by_what_the_sheet_is_thicker_than_the_ledge_is_deep(shop, plate):
    made = plate(rect(0, 0, 80, 60), rect(10, 10, 70, 50))
    assert lies(shop.job(made.cut), made) == pytest.approx(0.1)


def test_a_skim_of_its_face_counts_and_one_of_the_other_does_not(shop, plate):
    made = plate(rect(0, 0, 80, 60), rect(10, 10, 70, 50))
    job = shop.job(made.cut)
    for face, proud in ((Side.FRONT, 1.1), (Side.BACK, 0.1)):
        skim = Skim(
            name="skim",
            face=face,
            cutter=made.cutter,
            depth=1.0,
            outline=(job.blank.outline,),
        )
        assert lies(replace(job, cuts=(skim, made.cut)), made) == pytest.approx(proud)


def test_a_cut_without_a_ledge_has_no_seat(shop):
    with pytest.raises(InternalError, match="no ledge"):
        ledge_of(shop.pocket(rect(0, 0, 10, 10)))


def test_a_ledge_without_inward_corners_stays_as_drawn(plate):
    for outline in (rect(0, 0, 80, 60), rect(0, 0, 80, 60, 10), circle(40, 30, 40)):
        given = plate(outline, rect(20, 20, 60, 40))
        assert fitted_ledge(given) is given.cut.ledge
        assert seat_of(given).rounded == ()


def test_the_edge_has_the_area_that_a_disc_leaves_of_a_rectangle(plate):
    # Each square corner keeps (1 - pi/4) r^2 (closed formula).
    seat = seat_of(plate(rect(0, 0, 80, 60), rect(10, 10, 70, 50)))
    assert seat.edge.area == pytest.approx(80 * 60 - (4 - math.pi) * 9.0, abs=0.02)
    # Moved in by 0.25: corners of radius 2.75.
    assert seat.plate.area == pytest.approx(79.5 * 59.5 - (4 - math.pi) * 2.75**2, abs=0.1)


def test_an_inward_corner_is_rounded_to_the_radius_less_the_gap(plate):
    seat = seat_of(plate(polygon(ELL), rect(8, 8, 22, 22)))
    radius = 3.0 - 0.25
    arc = Point(30 + radius, 30 + radius)
    inner = seat.edge.boundary.intersection(Point(30, 30).buffer(2.0))
    far = shapely.distance(arc, shapely.points(shapely.get_coordinates(inner)))
    assert np.abs(far - radius).max() < 0.02
    (corner,) = seat.rounded
    assert corner.by == pytest.approx(radius * (1 - math.sqrt(0.5)), abs=0.01)
    assert Point(corner.at).distance(Point(30, 30)) < 1.5


def test_a_thin_enough_plate_cutter_leaves_inward_corners_sharp(plate):
    given = plate(polygon(ELL), rect(8, 8, 22, 22), plate_diameter=1.0, gap=0.5)
    assert fitted_ledge(given) is given.cut.ledge


def test_a_fitted_ledge_is_not_fitted_again(plate):
    given = plate(polygon(ELL), rect(8, 8, 22, 22))
    once = replace(given, cut=replace(given.cut, ledge=fitted_ledge(given)))
    assert fitted_ledge(once) is once.cut.ledge


def test_the_plates_cutter_can_follow_the_plate_and_the_gap_is_even(plate):
    given = plate(polygon(ELL), rect(8, 8, 22, 22), diameter=4.0, plate_diameter=6.0, gap=0.4)
    seat = seat_of(given)
    left = seat.plate.buffer(3.0, quad_segs=256).buffer(-3.0, quad_segs=256)
    assert shapely.hausdorff_distance(left, seat.plate) < 0.01
    rim = shapely.points(shapely.get_coordinates(seat.plate.exterior.segmentize(0.2)))
    edge = shapely.points(shapely.get_coordinates(seat.edge.exterior.segmentize(0.2)))
    assert np.abs(shapely.distance(seat.edge.exterior, rim) - 0.4).max() < 0.005
    assert np.abs(shapely.distance(seat.plate.exterior, edge) - 0.4).max() < 0.005


def test_arcs_become_arcs_again():
    region = region_of(circle(5, 5, 20).polygon(0.0005, Err.INWARD))
    assert len(region.outer.points) == 2
    assert region.area == pytest.approx(math.pi * 400, rel=1e-4)


def test_opening_and_closing_keep_and_fill_as_the_definitions_say():
    square = shapely.box(0, 0, 20, 20)
    assert opened(square, 3.0).area == pytest.approx(400 - (4 - math.pi) * 9, abs=0.01)
    assert closed(square, 3.0).area == pytest.approx(400, abs=0.01)
    ell = shapely.Polygon(ELL)
    assert closed(ell, 3.0).area == pytest.approx(ell.area + (1 - math.pi / 4) * 9, abs=0.01)


def test_what_stands_in_a_ledge_is_refused(plate):
    island = plate(rect(0, 0, 80, 60), rect(10, 10, 70, 50), islands=(circle(40, 30, 5),))
    with pytest.raises(DrawingError, match=r"standing inside the ledge at \(40, 30"):
        seat_of(island)
    ring = Region(outer=rect(0, 0, 80, 60).outer, holes=(circle(40, 30, 5).outer,))
    with pytest.raises(DrawingError, match="up to the face"):
        seat_of(plate(ring, rect(10, 10, 20, 20)))


def test_a_ledge_in_several_parts_is_refused_with_their_places(plate):
    two = (rect(0, 0, 30, 30), rect(50, 0, 80, 30))
    with pytest.raises(DrawingError, match=r"in 2 parts, at .*15.*65.* mm"):
        seat_of(plate(two, rect(5, 5, 25, 25)))
    neck = [(0, 0), (30, 0), (30, 13), (50, 13), (50, 0), (80, 0), (80, 30), (50, 30)]
    neck += [(50, 17), (30, 17), (30, 30), (0, 30)]
    with pytest.raises(DrawingError, match="6 mm cutter leaves the ledge in 2 parts"):
        seat_of(plate(polygon(neck), rect(5, 5, 25, 25)))
    assert seat_of(plate(polygon(neck), rect(5, 5, 25, 25), diameter=3.0)).plate.area > 0


def test_a_ledge_that_is_too_narrow_is_refused(plate):
    with pytest.raises(DrawingError, match="6 mm cutter does not fit into the ledge"):
        seat_of(plate(rect(0, 0, 5, 60), rect(1, 1, 4, 50)))
    with pytest.raises(DrawingError, match="has nothing left with a gap of 4 mm"):
        seat_of(plate(rect(0, 0, 7, 60), rect(1, 1, 4, 50), gap=4.0))


def test_a_channel_as_wide_as_the_cutter_belongs_to_the_plate(plate):
    ear = [(0, 0), (80, 0), (80, 27), (90, 27), (90, 33), (80, 33), (80, 60), (0, 60)]
    seat = seat_of(plate(polygon(ear), rect(10, 10, 70, 50), diameter=6.0))
    assert seat.plate.bounds[2] == pytest.approx(89.75, abs=0.005)


def test_a_drawn_ledge_keeps_its_own_lines_and_arcs(plate):
    bulged = Loop(points=np.array([(0, 0, 0), (80, 0, 0.2), (80, 60, 0), (0, 60, 0.3)], float))
    given = plate(Region(outer=bulged), rect(10, 10, 70, 50))
    assert fitted_ledge(given).outline[0].outer is bulged

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely

from toolpath.drawing.outline import Err
from toolpath.drawing.shapes import circle, polygon, rect
from toolpath.errors import DrawingError, InternalError
from toolpath.job.model import Ledge, Plate, Screws, Sheet, Side
from toolpath.plan.screws import hole_diameter, pilots, screw_places
from toolpath.plan.seat import seat_of

RIM = rect(0, 0, 100, 60), rect(10, 10, 90, 50)
ELL = (
    polygon([(0, 0), (80, 0), (80, 30), (30, 30), (30, 70), (0, 70)]),
    polygon([(10, 10), (70, 10), (70, 20), (20, 20), (20, 60), (10, 60)]),
)


@pytest.fixture
def screwed(shop):
    def make(outline, cavity, **given):
        cut = shop.pocket(cavity, depth=20.0, face=Side.BACK)
        screws = {
            "diameter": 3.0,
            "pilot": shop.cutter(diameter=2.4, name="pilot"),
            "depth": 8.0,
            "edge": 4.0,
            "slack": 0.4,
        } | given
        return Plate(
            cut=replace(cut, ledge=Ledge(outline=(outline,), depth=3.0)),
            gap=0.25,
            cutter=shop.cutter(diameter=3.0, name="plate"),
            sheet=Sheet(size=(200.0, 150.0), thickness=3.0),
            screws=Screws(**screws),
        )

    return make


def least_distances(plate, places):
    """From the plate's edge and from the cavity, worked out from the drawing by shapely."""
    spots = shapely.points(np.array(places))
    seat = seat_of(plate)
    rim = shapely.distance(seat.plate.exterior, spots)
    cavity = plate.cut.outline[0].polygon(1e-4, Err.OUTWARD)
    reached = cavity.buffer(-3, quad_segs=64).buffer(3, quad_segs=64)
    assert shapely.contains(seat.plate, spots).all()
    return min(rim.min(), shapely.distance(reached, spots).min())


def apart(places):
    return min((math.dist(a, b) for a, b in combinations(places, 2)), default=math.inf)


@pytest.mark.parametrize("count", [1, 3, 5, 12])
@pytest.mark.parametrize("ledge", [RIM, ELL, (circle(0, 0, 50), circle(0, 0, 40))])
def test_spread_screws_keep_their_edges_and_each_other(shop, screwed, ledge, count):
    plate = screwed(*ledge, count=count)
    places = screw_places(shop.job(), plate)
    assert len(places) == count
    assert least_distances(plate, places) >= 4.0 - 0.012
    assert apart(places) >= 8.0 - 0.012


def test_four_screws_of_a_rectangle_stand_in_its_corners_alike(shop, screwed):
    places = sorted(screw_places(shop.job(), screwed(*RIM, count=4)))
    x, y = places[0]
    assert x == pytest.approx(y, abs=0.05)
    wanted = [(x, y), (x, 60 - y), (100 - x, y), (100 - x, 60 - y)]
    assert np.array(places) == pytest.approx(np.array(wanted), abs=0.05)


def test_six_screws_of_a_rectangle_stand_in_the_middles_of_its_long_sides_too(shop, screwed):
    places = screw_places(shop.job(), screwed(*RIM, count=6))
    middles = sorted(place for place in places if abs(place[0] - 50) < 1)
    # Half way between the plate's edge at 0.25 and the cavity at 10.
    assert np.array(middles) == pytest.approx(np.array([(50, 5.125), (50, 54.875)]), abs=0.03)


def test_screws_of_a_disc_stand_evenly_from_its_top(shop, screwed):
    places = screw_places(shop.job(), screwed(circle(0, 0, 50), circle(0, 0, 40), count=6))
    angles = np.degrees(np.unwrap([math.atan2(y, x) for x, y in places]))
    assert np.abs(np.diff(angles)) == pytest.approx([60.0] * 5, abs=1.0)
    assert angles[0] == pytest.approx(90.0, abs=1.0)


def test_a_ledge_wide_only_in_places_has_its_screws_there(shop, screwed):
    # 4 mm wide but for ends of 15 mm.
    plate = screwed(rect(0, 0, 100, 40), rect(15, 4, 85, 36), count=4)
    places = screw_places(shop.job(), plate)
    assert all(x < 15 or x > 85 for x, _ in places)
    assert least_distances(plate, places) >= 4.0 - 0.012


def test_no_room_says_the_width_there_is_and_the_edge_that_would_fit(shop, screwed):
    # 10 mm of ledge less the gap: 9.75 along the sides; the corner takes a disc of radius
    # (12.75 sqrt 2 - 3) / (1 + sqrt 2) = 6.226.
    with pytest.raises(DrawingError, match=r"at most 12\.4\d mm .* 13\.00 mm.* at most 6\.2\d mm"):
        screw_places(shop.job(), screwed(*RIM, count=4, edge=6.5))


def test_too_many_screws_are_refused(shop, screwed):
    with pytest.raises(DrawingError, match=r"no room for 60: .* apart, less than twice edge"):
        screw_places(shop.job(), screwed(*RIM, count=60))


def test_given_places_are_taken_as_they_are(shop, screwed):
    given = ((6.0, 5.0), (50.0, 5.125))
    assert screw_places(shop.job(), screwed(*RIM, at=given)) == given


def test_all_that_is_wrong_with_given_places_is_said(shop, screwed):
    with pytest.raises(DrawingError) as error:
        screw_places(shop.job(), screwed(*RIM, at=((5.0, 5.0), (3.0, 5.0), (50.0, 30.0))))
    text = str(error.value)
    assert "at[2] (3, 5) mm is 2.75 mm from the edge" in text or "2.74 mm" in text
    assert "at[3] (50, 30) mm is not on the ledge" in text
    assert "at[1] and at[2] are 2.00 mm apart, less than twice edge (8 mm)" in text


def test_pilots_begin_on_the_ledge_of_their_cut(shop, screwed):
    plate = screwed(*RIM, count=4)
    drilled = pilots(shop.job(), plate)
    assert drilled.name == "cavity pilots"
    assert drilled.face is Side.BACK
    assert (drilled.below, drilled.depth, drilled.diameter, drilled.peck) == (3.0, 11.0, 2.4, 2.4)
    assert drilled.at == screw_places(shop.job(), plate)


def test_a_plate_without_screws_has_no_places_and_no_pilots(shop, screwed):
    plate = replace(screwed(*RIM, count=4), screws=None)
    assert screw_places(shop.job(), plate) == ()
    with pytest.raises(InternalError):
        pilots(shop.job(), plate)


def test_holes_are_wider_than_the_screw_by_the_slack(screwed):
    assert hole_diameter(screwed(*RIM, count=1).screws) == pytest.approx(3.4)

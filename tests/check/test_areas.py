import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from toolpath.check.areas import discs, grown, hard_areas, quarter, through_areas
from toolpath.job.model import Drill, Ledge, Pocket, Profile, ProfileSide, Side


@pytest.fixture
def cuts(kit):
    common = {"face": Side.FRONT, "cutter": kit.cutter(), "depth": 40.5, "through": True}
    square = (kit.rectangle(40.0, 40.0, 60.0, 60.0),)
    ledge = Ledge(outline=(kit.rectangle(35.0, 35.0, 65.0, 65.0),), depth=4.0)
    return {
        "pocket": Pocket(name="cavity", outline=square, ledge=ledge, **common),
        "hole": Drill(name="hole", at=((50.0, 60.0),), peck=5.0, diameter=10.0, **common),
        "edge": Profile(name="edge", outline=square, side=ProfileSide.OUTER, **common),
    }


def test_a_ledge_is_hard_but_not_through(kit, cuts):
    cut = replace(cuts["pocket"], through_hard=True)
    (through,) = through_areas(kit.job(cuts=(cut,)))
    assert through.area == pytest.approx(400.0)
    hard = shapely.union_all(list(hard_areas(kit.job(cuts=(cut,)), Side.FRONT)))
    assert hard.area == pytest.approx(900.0)


def test_a_bored_hole_is_as_wide_as_it_becomes(kit, cuts):
    (bored,) = through_areas(kit.job(cuts=(cuts["hole"],)))
    assert bored.area == pytest.approx(math.pi * 25.0, rel=0.01)
    narrow = replace(cuts["hole"], diameter=6.0)
    (drilled,) = through_areas(kit.job(cuts=(narrow,)))
    assert drilled.area == pytest.approx(math.pi * 9.0, rel=0.01)


def test_the_widest_cutter_and_what_is_left_for_a_last_pass(kit, cuts):
    fine = kit.cutter(name="flat 2", diameter=2.0)
    for changes, reach in (({}, 6.0), ({"smaller": (fine,)}, 6.0), ({"finish": 0.5}, 6.5)):
        (band,) = through_areas(kit.job(cuts=(replace(cuts["edge"], **changes),)))
        x0, y0, x1, y1 = band.bounds
        assert (x0, y0, x1, y1) == pytest.approx((40 - reach, 40 - reach, 60 + reach, 60 + reach))
        assert not band.covers(shapely.Point(50.0, 50.0))


def test_only_cuts_that_say_so_and_only_of_their_face(kit, cuts):
    quiet = replace(cuts["pocket"], through=False)
    back = replace(cuts["edge"], through_hard=True, face=Side.BACK)
    job = kit.job(cuts=(quiet, back))
    assert len(through_areas(job)) == 1
    assert hard_areas(job, Side.FRONT) == ()
    assert len(hard_areas(job, Side.BACK)) == 1


def test_grown(kit):
    one, two = shapely.box(0, 0, 1, 1), shapely.box(5, 0, 6, 1)
    assert grown([one, two], 0.5).bounds == pytest.approx((-0.5, -0.5, 6.5, 1.5))
    assert grown([], 0.5).is_empty


def test_discs_along_lines_and_at_places_without_length():
    lines = shapely.linestrings([[[0, 0], [0, 0]], [[20, 0], [30, 0]], [[40, 0], [40, 0]]])
    found = discs(lines, np.array([2.0, 2.0, 3.0]))
    # pi r² each and a rectangle between the halves of one (elementary); polygons are a little less.
    area, rim = math.pi * (4 + 4 + 9) + 40.0, math.pi * (4 + 4 + 6) + 20.0
    assert area - 0.0008 * rim < found.area <= area


@pytest.mark.parametrize("radius", [1e-4, 0.1, 0.75, 3.0, 11.0, 30.0])
def test_a_disc_is_drawn_too_small_by_a_little_at_most(radius):
    ring = shapely.get_coordinates(shapely.Point(0, 0).buffer(radius, quad_segs=quarter(radius)))
    middles = (ring[1:] + ring[:-1]) / 2.0
    off = radius - np.hypot(*middles.T).min()
    assert off <= (0.0008 if radius < 11.0 else 0.003)
    if 0.1 < radius < 11.0:  # and not with more chords than that asks for
        fewer = radius * (1.0 - math.cos(math.pi / 4.0 / (quarter(radius) - 1)))
        assert fewer > 0.0008

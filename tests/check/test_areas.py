import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from toolpath.check.areas import discs, grown, hard_areas, through_areas
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
    assert found.area == pytest.approx(math.pi * (4 + 4 + 9) + 40.0, rel=2e-4)

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from toolpath.plan.lines import length_of
from toolpath.plan.links import Run
from toolpath.plan.useful import Remains, useful


def straight(*corners):
    return Run(points=np.array(corners, dtype=float), inset=0)


def test_only_what_takes_something_is_kept_with_a_little_air_at_both_ends():
    # A strip 40 to 60 wide and 1 high; the cutter of radius 2 goes by with its middle 1.5 above
    # its lower edge: it touches it from 40 - sqrt(4 - 0.5^2) = 38.06 to 61.94 (Pythagoras).
    remains = Remains(box(40, 0, 60, 1), 2.0)
    ((run,),) = useful(remains, (straight((0, 1.5), (100, 1.5)),), gap=5.0)
    assert run.points[0, 0] == pytest.approx(38.06 - 0.1, abs=0.25)
    # What the far half of the disc has passed is gone already.
    assert run.points[-1, 0] == pytest.approx(60.0 - np.sqrt(4.0 - 1.5**2), abs=0.35)


def test_the_way_back_along_a_strip_that_is_gone_is_air():
    remains = Remains(box(0, 0, 60, 1), 2.0)
    there_and_back = straight((0, 1), (60, 1), (60, 1.5), (0, 1.5))
    (kept,) = useful(remains, (there_and_back,), gap=5.0)
    # It is all gone when the rim has passed its far corners: 60 - sqrt(2^2 - 1^2) (Pythagoras).
    whole = sum(length_of(run.points) for run in kept)
    assert whole == pytest.approx(60.0 - np.sqrt(3.0), abs=0.35)


@pytest.mark.parametrize(("gap", "count"), [(5.0, 2), (30.0, 1)])
def test_a_long_way_through_air_parts_a_path(gap, count):
    remains = Remains(box(0, 0, 10, 1).union(box(30, 0, 40, 1)), 2.0)
    assert len(useful(remains, (straight((-5, 0), (50, 0)),), gap)) == count


def test_what_is_swept_is_gone_in_every_square_it_is_kept_in():
    # 30 x 30 in squares of four radii: the sum of what single sweeps take is what they all cover.
    stock = box(0, 0, 30, 30)
    remains = Remains(stock, 1.0)
    ways = [np.array([[0, y], [30, y]], dtype=float) for y in np.arange(0.5, 30, 1.7)]
    assert all(remains.take(way) for way in ways)
    assert not any(remains.take(way) for way in ways)
    left = stock.difference(shapely.union_all([shapely.linestrings(w).buffer(1.0) for w in ways]))
    assert left.area < 1e-6 or remains.take(np.array([[0, 0], [30, 30]], dtype=float))


def test_nothing_is_kept_of_a_path_that_takes_nothing():
    assert useful(Remains(box(0, 0, 1, 1), 2.0), (straight((10, 0), (50, 0)),), 5.0) == ()

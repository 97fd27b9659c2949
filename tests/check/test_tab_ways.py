import math

import numpy as np
import pytest

from toolpath.check.tab_ways import ACROSS, Way, loops_of, runs_of, runs_within
from toolpath.job.model import Profile, ProfileSide, Side, Tabs


def profile(kit, outline, side):
    return Profile(
        name="rim",
        face=Side.FRONT,
        cutter=kit.cutter(),
        depth=5.0,
        outline=(outline,),
        side=side,
    )


@pytest.mark.parametrize(
    ("side", "length"),
    [
        # A rectangle 40 by 30 and a cutter of 3 mm radius: corners are rounded outside.
        (ProfileSide.OUTER, 140.0 + 2.0 * math.pi * 3.0),
        (ProfileSide.INNER, 2.0 * (34.0 + 24.0)),
        (ProfileSide.CENTRE, 140.0),
    ],
)
def test_a_loop_runs_a_radius_beside_the_outline(kit, side, length):
    (loop,) = loops_of(profile(kit, kit.rectangle(20.0, 30.0, 60.0, 60.0), side))
    assert loop.length == pytest.approx(length, rel=1e-3)


def test_a_slot_that_holds_nothing_has_no_loop(kit):
    # What 3 mm beside the middle of the cutter leaves of 11 mm inside: nothing.
    narrow = kit.rectangle(20.0, 30.0, 60.0, 41.0)
    assert list(loops_of(profile(kit, narrow, ProfileSide.INNER))) == []
    assert len(list(loops_of(profile(kit, narrow, ProfileSide.OUTER)))) == 1


def test_places_lie_evenly_along_a_loop_and_across_it(kit):
    cut = profile(kit, kit.circle(50.0, 50.0, 17.0), ProfileSide.OUTER)
    (loop,) = loops_of(cut)
    way = Way.along(cut, Tabs(count=2, width=8.0, height=2.0), loop)
    away = np.hypot(*(way.spots - (50.0, 50.0)).transpose(2, 0, 1))
    across = np.sort(away, axis=1)
    expected = 20.0 + 3.0 * np.array(ACROSS)
    np.testing.assert_allclose(across, np.broadcast_to(expected, across.shape), atol=0.02)
    assert way.step * len(way.spots) == pytest.approx(2.0 * math.pi * 20.0, rel=1e-3)
    quarter = np.arange(len(way.spots) // 4)
    assert way.turn(quarter) == pytest.approx(math.pi / 2.0, abs=0.05)
    assert way.turn(quarter[:1]) == 0.0


def test_runs_of_a_closed_loop_go_over_its_end():
    mask = np.array([1, 1, 0, 0, 1, 0, 1], dtype=bool)
    assert sorted(run.tolist() for run in runs_of(mask)) == [[4], [6, 0, 1]]
    assert [run.tolist() for run in runs_of(np.ones(3, dtype=bool))] == [[0, 1, 2]]
    assert runs_of(np.zeros(3, dtype=bool)) == []


def test_runs_within_an_open_stretch_do_not():
    mask = np.array([1, 1, 0, 0, 1, 0, 1], dtype=bool)
    found = runs_within(np.array([4, 5, 6, 0, 1, 2]), mask)
    assert [run.tolist() for run in found] == [[4], [6, 0, 1]]
    assert [run.tolist() for run in runs_within(np.arange(7), mask)] == [[0, 1], [4], [6]]

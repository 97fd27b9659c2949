import itertools
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from toolpath.motion.feeds import (
    SAME,
    SLOT_SHARE,
    THINNEST,
    Engagement,
    FeedRules,
    feeds_for,
    rim_share,
    settled,
    thinning,
)
from toolpath.motion.moves import Kind, Move, MoveTable

ROWS = tomllib.loads((Path(__file__).parents[2] / "shared/cutting-data.toml").read_text())


@pytest.mark.parametrize(("share", "thin"), ROWS["thinning"]["rows"])
def test_the_chip_thins_below_half_the_diameter(share, thin):
    # El-Hofy, Fundamentals of Machining Processes, 6.3.1.
    assert thinning(np.array([share]))[0] == pytest.approx(thin, abs=5e-7)


@pytest.mark.parametrize("share", [0.5, 0.6, 0.9, 1.0])
def test_from_half_the_diameter_on_the_chip_is_full(share):
    # The formula is symmetric in x and 1 - x: it holds up to a half only.
    assert thinning(np.array([share]))[0] == 1.0


@given(share=st.floats(0.001, 0.5), teeth=st.integers(1, 4))
def test_thinning_by_the_angle_of_the_tooth(share, teeth):
    # At engagement x the tooth comes in at the angle whose cosine is 1 - 2 x; the chip there is
    # the feed a tooth times its sine.
    assert thinning(np.array([share]))[0] == pytest.approx(math.sin(math.acos(1 - 2 * share)))


@given(radius=st.floats(0.01, 100.0), cutter=st.floats(0.1, 20.0))
def test_the_rim_is_faster_outside_an_arc(radius, cutter):
    # Both go round once in the same time: speeds are as the radii.
    share = rim_share(np.array([radius]), cutter)[0]
    assert share * 2 * math.pi * (radius + cutter) == pytest.approx(2 * math.pi * radius)


def test_straight_moves_have_no_rim():
    assert rim_share(np.array([math.inf, 3.0]), 3.0).tolist() == [1.0, 0.5]


def line(start, end, feed=1000.0):
    return Move(kind=Kind.LINE, start=start, end=end, feed=feed)


def arc(radius, sweep=math.pi / 2, feed=1000.0):
    end = (radius * math.cos(sweep), radius * math.sin(sweep), -1.0)
    return Move(
        kind=Kind.ARC, start=(radius, 0.0, -1.0), end=end, centre=(0, 0), sweep=sweep, feed=feed
    )


def rules(**other):
    given_rules = {
        "diameter": 6.0,
        "keep_chip": False,
        "most": 3000.0,
        "least": 0.0,
        "plunge": 300.0,
    } | other
    return FeedRules(**given_rules)


def fed(moves, width, *, slot=None, outside=None, **other):
    count = len(moves)
    engaged = Engagement(
        width=np.asarray(width, dtype=float),
        slot=np.asarray(slot if slot is not None else [0.0] * count, dtype=float),
        outside=np.asarray(outside if outside is not None else [False] * count),
    )
    return feeds_for(MoveTable.of(moves), engaged, rules(**other)).tolist()


LEVEL = line((0, 0, -1), (10, 0, -1))


@pytest.mark.parametrize(("share", "thin"), ROWS["thinning"]["rows"])
def test_a_chip_to_be_kept_raises_the_feed(share, thin):
    assert fed([LEVEL], [6.0 * share], keep_chip=True)[0] == pytest.approx(1000.0 / thin, rel=2e-6)
    assert fed([LEVEL], [6.0 * share]) == [1000.0]


def test_the_feed_rises_no_further_than_the_machine_and_the_thinnest():
    assert fed([LEVEL], [0.6], keep_chip=True, most=1200.0) == [1200.0]
    sliver = fed([LEVEL], [0.001], keep_chip=True, most=1e9)[0]
    assert sliver == pytest.approx(1000.0 / thinning(np.array([THINNEST]))[0])
    assert fed([LEVEL], [0.0], keep_chip=True) == [1000.0]  # in air


def test_what_goes_down_sinks_no_faster_than_it_plunges():
    down = line((0, 0, 0), (4, 0, -3), feed=400.0)
    (feed,) = fed([down], [0.6], keep_chip=True)
    assert feed == pytest.approx(300.0 * 5.0 / 3.0)
    steep = line((0, 0, 0), (0.3, 0, -3), feed=310.0)
    assert fed([steep], [0.6], keep_chip=True) == [310.0]


def test_slots_are_slowed_but_never_so_that_it_rubs():
    assert fed([LEVEL], [6.0], slot=[1.0]) == [1000.0 * SLOT_SHARE]
    assert fed([LEVEL], [6.0], slot=[1.0], least=800.0) == [800.0]
    assert fed([LEVEL], [6.0], slot=[1.0], least=1500.0) == [1000.0]


@pytest.mark.parametrize(
    ("depth", "feed"), [(0.0, 1000.0), (0.2, 930.0), (0.5, 825.0), (1.5, 650.0)]
)
def test_a_shallow_slot_is_slowed_less(depth, feed):
    # In proportion from nothing to 35 % at a whole stepdown: common practice, no source.
    assert fed([LEVEL], [6.0], slot=[depth]) == [pytest.approx(feed)]


def test_arcs_with_their_outside_cut_are_fed_by_the_rim():
    # f r / (r + R): 3 mm about a corner with a cutter of 3 mm radius halves it.
    assert fed([arc(3.0)], [2.4], outside=[True]) == [pytest.approx(500.0)]
    assert fed([arc(3.0)], [2.4], outside=[True], least=700.0) == [700.0]
    assert fed([arc(3.0)], [2.4]) == [1000.0]
    assert fed([arc(3.0)], [0.0], outside=[True]) == [1000.0]


def test_rapids_stay_rapids():
    rapid = Move(kind=Kind.RAPID, start=(0, 0, 5), end=(9, 0, 5))
    assert fed([rapid, LEVEL], [0.0, 6.0], slot=[0.0, 1.0]) == [0.0, 650.0]


feeds = st.lists(st.floats(10.0, 5000.0), min_size=1, max_size=40)


@given(feed=feeds, seed=st.integers(0, 99))
def test_settled_feeds_are_never_higher_and_hardly_lower(feed, seed):
    given_feed = np.array(feed)
    feeding = np.random.default_rng(seed).random(len(feed)) < 0.9
    given_feed[~feeding] = 0.0
    out = settled(given_feed, feeding)
    assert (out <= given_feed).all()
    assert (out >= given_feed / (1.0 + SAME) - 1e-9).all()
    assert (out[~feeding] == 0.0).all()
    assert changes(out) <= changes(given_feed)


def changes(feed):
    return sum(a != b for a, b in itertools.pairwise(feed.tolist()))


def test_small_differences_are_one_feed():
    feed = np.array([1000.0, 1040.0, 1010.0, 1200.0, 0.0, 1200.0, 1230.0])
    out = settled(feed, feed > 0.0)
    assert out.tolist() == [1000.0, 1000.0, 1000.0, 1200.0, 0.0, 1200.0, 1200.0]

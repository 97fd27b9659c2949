import math
import random

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from toolpath.drawing import chain as module
from toolpath.drawing.chain import chain
from toolpath.drawing.curves import Run
from toolpath.drawing.outline import Err, area_of
from toolpath.errors import DrawingError


def line(*points):
    return Run(points=np.array([(x, y, 0.0) for x, y in points]))


def arc(x0, y0, bulge, x1, y1):
    return Run(points=np.array([(x0, y0, bulge), (x1, y1, 0.0)]))


def ring(x, y, radius):
    return Run(points=np.array([(x - radius, y, 1.0), (x + radius, y, 1.0), (x - radius, y, 0.0)]))


def box(x0, y0, x1, y1):
    return line((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0))


SLOT = [
    line((0, 0), (40, 0)),
    arc(40, 0, 1.0, 40, 12),
    line((0, 12), (40, 12)),
    arc(0, 0, -1.0, 0, 12),
]
SLOT_AREA = 480 + 36 * math.pi


@pytest.mark.parametrize("seed", range(6))
def test_runs_join_in_any_order_and_direction(seed):
    shuffled = SLOT.copy()
    random.Random(seed).shuffle(shuffled)
    (region,) = chain(shuffled, 0.01, 'layer "SLOT"')
    assert region.area == pytest.approx(SLOT_AREA)
    assert region.outer.length == pytest.approx(80 + 12 * math.pi)
    assert region.outer.error == 0.0
    assert len(region.outer.points) == 4


@given(
    jolts=st.lists(st.integers(-3, 3), min_size=16, max_size=16), order=st.permutations(range(4))
)
@settings(max_examples=40, deadline=None)
def test_small_gaps_close_and_are_owned_up_to(jolts, order):
    # Every end moved by up to 3 um each way: the loop lies within its error of the true slot.
    runs = []
    for i, run in enumerate(SLOT):
        points = run.points.copy()
        points[:, :2] += 0.001 * np.array(jolts[4 * i : 4 * i + 4]).reshape(2, 2)
        runs.append(Run(points=points))
    (region,) = chain([runs[i] for i in order], 0.01, 'layer "SLOT"')
    assert region.area == pytest.approx(SLOT_AREA, abs=0.5)
    gaps = [
        np.hypot(*(runs[i].points[a, :2] - runs[j].points[b, :2]))
        for i, a, j, b in ((0, 1, 1, 0), (1, 1, 2, 1), (2, 0, 3, 1), (3, 0, 0, 0))
    ]
    widest = max(gaps)
    assert region.outer.error == pytest.approx(math.sqrt(0.5) * widest if widest > 1e-6 else 0.0)
    removed = region.polygon(0.0005, Err.INWARD)
    for run in runs:  # nothing that was drawn lies inside what would be removed
        for x, y in run.points[:, :2]:
            inner = removed.buffer(-1e-6)
            assert not inner.contains_properly(shapely.Point(x, y))


def test_short_edges_do_not_fall_together():
    # A circle of 2 mm in chords of 0.004 mm, well under the join of 0.01.
    angles = np.linspace(0, 2 * np.pi, 1571)
    x, y = np.cos(angles), np.sin(angles)
    runs = [line((x[i], y[i]), (x[i + 1], y[i + 1])) for i in range(1570)]
    random.Random(1).shuffle(runs)
    (region,) = chain(runs, 0.01, 'layer "FINE"')
    assert region.area == pytest.approx(math.pi, rel=1e-4)


def test_the_wider_join_of_a_job_counts():
    gap = [line((0, 0), (10, 0), (10, 10)), line((10, 10.4), (0, 10), (0, 0))]
    with pytest.raises(DrawingError) as caught:
        chain(gap, 0.01, 'layer "Pocket"')
    for word in (
        'layer "Pocket"',
        "open between (10, 10",
        "0.4 mm",
        "join is 0.01 mm",
        "raise join",
    ):
        assert word in str(caught.value)
    (region,) = chain(gap, 0.5, 'layer "Pocket"')
    assert region.outer.error == pytest.approx(0.4 * math.sqrt(0.5))
    assert region.area == pytest.approx(100.0 + 2.0 - 1.0, abs=1.1)


def test_the_likeliest_gap_is_named():
    with pytest.raises(DrawingError, match=r"\(5, 0\) mm and \(5.2, 0\) mm.*0.2 mm.*4 loose"):
        chain([line((0, 0), (5, 0)), line((5.2, 0), (9, 0))], 0.01, 'layer "L"')


def test_a_lone_line_is_open():
    with pytest.raises(DrawingError, match=r"a gap of 50 mm .*2 loose ends"):
        chain([line((0, 0), (30, 40))], 0.01, 'layer "L"')


def test_three_ends_at_one_place_are_ambiguous():
    triangle = [line((10, 10), (0, 0), (10, 0)), line((10, 0), (10, 10))]
    with pytest.raises(DrawingError, match=r'layer "L": 3 ends meet at \(10, 10\) mm.*drawn twice'):
        chain([*triangle, line((10, 10), (30, 30))], 0.01, 'layer "L"')


def test_two_corners_touching_are_ambiguous():
    halves = [line((0, 0), (9, 0), (10, 10)), line((10, 10), (0, 9), (0, 0))]
    other = [line((10, 10), (20, 11), (20, 20)), line((20, 20), (11, 20), (10, 10))]
    with pytest.raises(DrawingError, match="4 ends meet"):
        chain(halves + other, 0.01, 'layer "L"')


@pytest.mark.parametrize("turned", [False, True])
def test_a_run_drawn_twice_counts_once(turned):
    again = SLOT[1]
    if turned:
        again = arc(40, 12, -1.0, 40, 0)
    (region,) = chain([*SLOT, again, SLOT[0]], 0.01, 'layer "SLOT"')
    assert region.area == pytest.approx(SLOT_AREA)


def test_a_loop_drawn_twice_from_another_corner_counts_once():
    second = line((10, 10), (0, 10), (0, 0), (10, 0), (10, 10))
    third = [line((0, 0), (10, 0)), line((10, 10), (10, 0)), line((10, 10), (0, 10), (0, 0))]
    (region,) = chain([box(0, 0, 10, 10), second, *third], 0.01, 'layer "L"')
    assert region.area == pytest.approx(100.0)
    backward = Run(points=np.array([(10, 0, -1), (-10, 0, -1), (10, 0, 0)], dtype=float))
    (disc,) = chain([ring(0, 0, 10), backward], 0, 'layer "L"')
    assert disc.area == pytest.approx(100 * math.pi)


def test_edges_without_length_are_nothing():
    dot = line((3, 3), (3, 3))
    runs = [line((0, 0), (0, 0), (10, 0), (10, 0), (5, 8), (0, 0)), dot]
    (region,) = chain(runs, 0.01, 'layer "L"')
    assert len(region.outer.points) == 3
    assert chain([dot], 0.01, 'layer "L"') == ()


def test_loops_nest_by_even_odd_depth():
    runs = [ring(0, 0, r) for r in (10, 40, 20, 30)] + [box(50, -5, 60, 5), box(52, -3, 58, 3)]
    regions = chain(runs, 0.01, 'layer "L"')
    areas = sorted(region.area for region in regions)
    expected = [100 - 36, math.pi * (400 - 100), math.pi * (1600 - 900)]
    assert areas == pytest.approx(sorted(expected))
    assert area_of(regions, 0.0005, Err.INWARD).area == pytest.approx(sum(expected), abs=0.5)
    assert all(len(region.holes) == 1 for region in regions)


def test_several_islands_in_one_region():
    (plate,) = chain(
        [box(0, 0, 100, 50), ring(20, 25, 5), ring(60, 25, 5), box(80, 5, 90, 45)], 0, "L"
    )
    assert len(plate.holes) == 3
    assert plate.area == pytest.approx(5000 - 50 * math.pi - 400)


@pytest.mark.parametrize(
    ("runs", "words"),
    [
        ([box(0, 0, 10, 10), box(5, 5, 15, 15)], ["cross or touch", "0.01 mm apart"]),
        ([box(0, 0, 10, 10), box(10, 0, 20, 10)], ["cross or touch near (10,"]),
        ([ring(0, 0, 10), ring(20.001, 0, 10)], ["cross or touch near (10"]),
        ([ring(0, 0, 10), ring(5, 0, 5)], ["cross or touch near (10"]),
        ([line((0, 0), (10, 10), (10, 0), (0, 10), (0, 0))], ["itself near (5, 5) mm"]),
        ([line((0, 0), (10, 0), (0, 0.0004), (0, 0))], ["nowhere wider"]),
        ([arc(0, 0, 0.5, 0.005, 0)], ["nowhere wider"]),
    ],
)
def test_what_is_no_outline_is_said_with_its_place(runs, words):
    with pytest.raises(DrawingError) as caught:
        chain(runs, 0.01, 'layer "RIM"')
    for word in ['layer "RIM"', *words]:
        assert word in str(caught.value)


def test_loops_just_far_enough_apart_stay_valid():
    rings = [ring(0, 0, 10), ring(20.003, 0, 10), ring(0, 0, 9.997)]
    regions = chain(rings, 0.01, 'layer "L"')
    assert len(regions) == 2
    for region in regions:
        for err in Err:
            assert region.polygon(0.0005, err).is_valid


def test_curve_errors_reach_the_loop():
    points = ring(0, 0, 10).points
    (region,) = chain([Run(points=points, error=0.0004)], 0.01, 'layer "L"')
    assert region.outer.error == 0.0004
    halves = [
        Run(points=np.array([(0, 0, 0.5), (10, 0, 0)], float), error=0.0003),
        line((10, 0), (5, 9), (0, 0)),
    ]
    (region,) = chain(halves, 0.01, 'layer "L"')
    assert region.outer.error == 0.0003


@pytest.mark.parametrize("join", [-1.0, math.nan, math.inf])
def test_join_is_a_length(join):
    with pytest.raises(DrawingError, match="join must be"):
        chain(SLOT, join, 'layer "L"')


def half_rings(count, gap):
    """Rings about one middle, each drawn as two half circles."""
    radii = [10.0 + gap * i for i in range(count)]
    ends = [((-r, 0.0), (r, 0.0)) for r in radii]
    return [arc(*one, 1.0, *other) for a, b in ends for one, other in ((a, b), (b, a))]


def test_rings_of_halves_about_one_middle():
    # Even-odd: 300 rings make 150 regions, each with a hole.
    regions = chain(half_rings(300, 0.1), 0.01, "rings")
    assert len(regions) == 150 and all(len(region.holes) == 1 for region in regions)


@pytest.mark.parametrize("gap", [1e-7, 1e-5, 1e-3, 0.1])
def test_what_is_drawn_over_and_over_is_not_compared_pair_by_pair(monkeypatch, gap):
    calls = 0

    def counted(name):
        inner = getattr(module, name)

        def call(*words):
            nonlocal calls
            calls += 1
            return inner(*words)

        monkeypatch.setattr(module, name, call)

    counted("_same")
    counted("_repeats")
    rings = [ring(gap * i, 0.0, 5.0) for i in range(400)]
    if gap < 1e-6:
        assert len(chain(rings, 0.01, "rings")) == 1
    else:
        with pytest.raises(DrawingError, match="two outlines cross or touch near"):
            chain(rings, 0.01, "rings")
    assert calls < 30 * len(rings)  # all pairs are 80,000


def test_lines_on_each_other_that_differ_are_refused_by_their_number():
    arcs = [arc(0, 0, 1.0 + 1e-4 * i, 10, 0) for i in range(150)]
    with pytest.raises(DrawingError, match=r"more than 100 lines lie on each other near \(0, 0\)"):
        chain(arcs, 0.01, "arcs")


def test_loops_beyond_depth_are_refused():
    with pytest.raises(DrawingError, match="rings: more than 300 outlines lie around"):
        chain([ring(0.0, 0.0, 5.0 + 0.1 * i) for i in range(302)], 0.01, "rings")


def test_loops_beyond_number_are_refused(monkeypatch):
    monkeypatch.setattr(module, "_MOST_LOOPS", 3)
    rings = [ring(20.0 * i, 0.0, 5.0) for i in range(4)]
    assert len(chain(rings[:3], 0.01, "rings")) == 3
    with pytest.raises(DrawingError, match="rings: the outline has 4 loops; at most 3 are read"):
        chain(rings, 0.01, "rings")


def test_outlines_of_a_unit_too_large_are_not_drawn_for_minutes():
    """Chords within t of a circle of r turn by 2 acos(1 - t / r) each (elementary): 4443 for 20 m
    and 0.005 mm, so that 113 circles are too many."""
    rings = [ring(50_000.0 * x, 50_000.0 * y, 20_000.0) for x in range(6) for y in range(20)]
    with pytest.raises(DrawingError, match="120 outlines have more than 500000 corners .* unit"):
        chain(rings, 0.01, "rings")
    assert len(chain(rings[:10], 0.01, "rings")) == 10

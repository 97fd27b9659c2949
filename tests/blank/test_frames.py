import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from toolpath.blank.frames import Frame, bounds_of
from toolpath.drawing.outline import Err, Loop, Region
from toolpath.job.model import Side, TurnOver, Zero
from toolpath.motion.moves import Kind, Move, MoveTable

COORDINATE = st.floats(-500, 500)
FRAMES = [(s, t, z) for s in Side for t in TurnOver for z in Zero]

# Worked by hand for the box from (10, -20) to (110, 60), 100 x 80: where its lower-left corner
# as drawn comes to lie, by face, turning and zero.
CORNER = {
    (Side.FRONT, TurnOver.LEFT_RIGHT): [(0, 0), (-100, 0), (0, -80), (-100, -80), (-50, -40)],
    (Side.FRONT, TurnOver.TOP_BOTTOM): [(0, 0), (-100, 0), (0, -80), (-100, -80), (-50, -40)],
    (Side.BACK, TurnOver.LEFT_RIGHT): [(100, 0), (0, 0), (100, -80), (0, -80), (50, -40)],
    (Side.BACK, TurnOver.TOP_BOTTOM): [(0, 80), (-100, 80), (0, 0), (-100, 0), (-50, 40)],
}
ORDER = [Zero.LOWER_LEFT, Zero.LOWER_RIGHT, Zero.UPPER_LEFT, Zero.UPPER_RIGHT, Zero.CENTRE]


@pytest.mark.parametrize(("side", "turn_over"), CORNER)
@pytest.mark.parametrize("zero", ORDER)
def test_corners_worked_by_hand(job, side, turn_over, zero):
    frame = Frame.of(job(zero=zero, turn_over=turn_over), side)
    x, y = CORNER[side, turn_over][ORDER.index(zero)]
    right = -1 if (side, turn_over) == (Side.BACK, TurnOver.LEFT_RIGHT) else 1
    up = -1 if (side, turn_over) == (Side.BACK, TurnOver.TOP_BOTTOM) else 1
    page = np.array([[10.0, -20.0], [110.0, -20.0], [10.0, 60.0], [35.0, 0.0]])
    steps = np.array([[0, 0], [100, 0], [0, 80], [25, 20]])
    assert frame.xy_to_program(page).tolist() == (steps * [right, up] + [x, y]).tolist()
    assert frame.mirrored is (side is Side.BACK)


def test_the_box_as_seen_has_its_zero_where_it_is_named(job):
    share = {
        Zero.LOWER_LEFT: (0, 0),
        Zero.LOWER_RIGHT: (-100, 0),
        Zero.UPPER_LEFT: (0, -80),
        Zero.UPPER_RIGHT: (-100, -80),
        Zero.CENTRE: (-50, -40),
    }
    for side, turn_over, zero in FRAMES:
        frame = Frame.of(job(zero=zero, turn_over=turn_over), side)
        seen = frame.xy_to_program(np.array([[10.0, -20.0], [110.0, 60.0]]))
        assert tuple(seen.min(axis=0)) == share[zero]
        assert np.ptp(seen, axis=0).tolist() == [100, 80]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(FRAMES), st.lists(st.tuples(COORDINATE, COORDINATE), min_size=1))
def test_there_and_back(job, which, xy):
    side, turn_over, zero = which
    frame = Frame.of(job(zero=zero, turn_over=turn_over), side)
    page = np.array(xy)
    assert frame.xy_to_page(frame.xy_to_program(page)) == pytest.approx(page, abs=1e-9)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.sampled_from(FRAMES),
    st.tuples(COORDINATE, COORDINATE),
    st.floats(0.1, 90),
    st.floats(-math.pi, math.pi),
    st.floats(-2 * math.pi, 2 * math.pi),
)
def test_arcs_stay_on_their_points(job, which, centre, radius, first, sweep):
    side, turn_over, zero = which
    frame = Frame.of(job(zero=zero, turn_over=turn_over), side)

    def on(angle: float, z: float) -> tuple[float, float, float]:
        return centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle), z

    move = Move(
        kind=Kind.ARC, start=on(first, -1), end=on(first + sweep, -3), centre=centre, sweep=sweep
    )
    t = np.linspace(0, 1, 9)
    rows = np.zeros(9, dtype=np.intp)
    page = MoveTable.of([move])
    program = MoveTable.of(frame.to_program([move]))
    there = program.at(rows, t)
    assert there[:, :2] == pytest.approx(frame.xy_to_program(page.at(rows, t)[:, :2]), abs=1e-6)
    assert there[:, 2] == pytest.approx(page.at(rows, t)[:, 2])
    assert program.sweep[0] == (-sweep if side is Side.BACK else sweep)
    again = frame.table_to_page(program)
    assert again.at(rows, t) == pytest.approx(page.at(rows, t), abs=1e-6)


def test_lines_and_unknown_places_pass_through(job):
    frame = Frame.of(job(), Side.BACK)
    move = Move(kind=Kind.LINE, start=(10, -20, 6), end=(110, 60, -2), feed=900, line=7)
    (turned,) = frame.to_program([move])
    assert (turned.start, turned.end) == ((100, 0, 6), (0, 80, -2))
    assert (turned.feed, turned.line, turned.kind) == (900, 7, Kind.LINE)
    unknown = Move(kind=Kind.RAPID, start=(math.nan, 5, math.nan), end=(1, 5, math.nan))
    page = frame.table_to_page(MoveTable.of([unknown]))
    assert np.isnan(page.start[0, [0, 2]]).all()
    assert page.start[0, 1] == -15
    assert page.end[0, :2].tolist() == [109, -15]


def test_bounds_take_arcs_at_their_extremes():
    circle = Region(outer=Loop(points=np.array([[1.0, 2.0, 1.0], [7.0, 2.0, 1.0]])))
    assert bounds_of(circle) == (pytest.approx((1, -1)), pytest.approx((7, 5)))
    slot = Region(
        outer=Loop(points=np.array([[0.0, -2.0, 0], [9, -2, 1.0], [9, 2, 0], [0, 2, 1.0]]))
    )
    assert bounds_of(slot) == (pytest.approx((-2, -2)), pytest.approx((11, 2)))
    # a quarter circle that bulges inward adds nothing to the corners
    bite = Loop(
        points=np.array(
            [[0.0, 0, 0], [4, 0, 0], [4, 3, -math.tan(math.pi / 8)], [3, 4, 0], [0, 4, 0]]
        )
    )
    assert bounds_of(Region(outer=bite)) == ((0, 0), (4, 4))


def test_bounds_equal_a_fine_flattening():
    rng = np.random.default_rng(2)
    for _ in range(20):
        angles = np.sort(rng.uniform(0, 2 * math.pi, 5))
        points = np.column_stack([9 * np.cos(angles), 7 * np.sin(angles), rng.uniform(0, 1.5, 5)])
        region = Region(outer=Loop(points=points))
        flat = region.outer.flatten(1e-5, Err.OUTWARD)
        low, high = bounds_of(region)
        assert low == pytest.approx(flat.min(axis=0), abs=1e-4)
        assert high == pytest.approx(flat.max(axis=0), abs=1e-4)

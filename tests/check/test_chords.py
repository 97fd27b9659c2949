import math

import numpy as np
import pytest
import shapely

from toolpath.check import chords as module
from toolpath.check.chords import SAGITTA, Feeds, chords_of
from toolpath.motion.moves import Kind, Move, MoveTable
from toolpath.tolerances import TOLERANCES


def arc(first, last, sweep, *, rise=0.0, angle=0.3, line=1):
    end = angle + sweep
    return Move(
        kind=Kind.ARC,
        start=(5.0 + first * math.cos(angle), 7.0 + first * math.sin(angle), -1.0),
        end=(5.0 + last * math.cos(end), 7.0 + last * math.sin(end), -1.0 + rise),
        centre=(5.0, 7.0),
        sweep=sweep,
        feed=600.0,
        line=line,
    )


def straight(start, end, kind=Kind.LINE):
    return Move(kind=kind, start=start, end=end, feed=600.0 * (kind is Kind.LINE))


def to_segment(point, start, end):
    along = end - start
    share = np.clip((point - start) @ along / (along @ along), 0.0, 1.0)
    return np.linalg.norm(point - start - along * share)


# NISTIR 6556, 3.5.3.2: the radii at both ends may differ by 0.002 mm.
SLACK = TOLERANCES.arc_radius_mm


@pytest.mark.parametrize("radius", [0.05, 3.0, 80.0])
@pytest.mark.parametrize("grown", [-SLACK, 0.0, SLACK])
@pytest.mark.parametrize("sweep", [-2 * math.pi, 0.01, 2.0])
def test_chords_stay_within_the_sagitta_of_the_spiral(kit, radius, grown, sweep):
    table = MoveTable.of([arc(radius, radius + grown, sweep, rise=-0.5)])
    chords = chords_of(table, kit.cutter())
    worst = 0.0
    for index in range(len(chords)):
        # The spiral itself: radius and angle both go evenly from start to end.
        for share in np.linspace(0.0, 1.0, 9):
            t = (index + share) / len(chords)
            turned, r = 0.3 + sweep * t, radius + grown * t
            spiral = np.array([5 + r * math.cos(turned), 7 + r * math.sin(turned), -1 - 0.5 * t])
            worst = max(worst, to_segment(spiral, chords.start[index], chords.end[index]))
    # What the radius gains within a chord bends it by some 1e-6 more than a circle.
    assert worst <= SAGITTA + 2e-6
    if abs(sweep) > 1.0:
        assert worst > SAGITTA / 3.0  # no more chords than there is need for


def test_chords_join_and_end_where_the_arc_does(kit):
    table = MoveTable.of([arc(10.0, 10.0 + SLACK, -4.0)])
    chords = chords_of(table, kit.cutter())
    np.testing.assert_allclose(chords.start[1:], chords.end[:-1], atol=1e-12)
    np.testing.assert_allclose(chords.start[0], table.start[0], atol=1e-12)
    np.testing.assert_allclose(chords.end[-1], table.end[0], atol=1e-12)


def test_rapids_have_no_chords_and_rows_count_all_moves(kit):
    a, b = (0.0, 0.0, 5.0), (0.0, 0.0, -1.0)
    table = MoveTable.of(
        [straight(b, a, Kind.RAPID), straight(a, b), arc(4.0, 4.0, 1.0), straight(a, b)]
    )
    chords = chords_of(table, kit.cutter())
    assert set(chords.row.tolist()) == {1, 2, 3}
    assert (chords.row == 2).sum() > 1
    assert (np.diff(chords.row) >= 0).all()
    feeds = Feeds.of(table, kit.cutter())
    assert feeds.between(1, 2).row.tolist() == [1]
    assert set(feeds.between(2, 4).row.tolist()) == {2, 3}
    np.testing.assert_array_equal(feeds.between(3, 4).end, [b])
    assert len(chords_of(table.take(np.array([0])), kit.cutter())) == 0


@pytest.mark.parametrize("at_once", [100, 8192])  # made where asked for, or all before
def test_all_chords_that_reach_into_a_box_are_about_it(kit, monkeypatch, at_once):
    monkeypatch.setattr(module, "_AT_ONCE", at_once)
    # Against shapely: the distance of each chord in plan from the box.
    kind = np.random.default_rng(5)
    moves, at = [], (0.0, 0.0, -1.0)
    for _ in range(3000):
        step = kind.normal(size=2) * 2.0
        end = (at[0] + step[0], at[1] + step[1], -1.0)
        moves.append(arc(3.0, 3.0, 5.0) if kind.random() < 0.05 else straight(at, end))
        at = end
    feeds = Feeds.of(MoveTable.of(moves), kit.cutter())
    every = chords_of(feeds.table, kit.cutter())
    lines = shapely.linestrings(np.stack([every.start[:, :2], every.end[:, :2]], axis=1))
    for x, y in kind.uniform(-60.0, 60.0, size=(20, 2)):
        box = (x, y, x + 4.0, y + 1.0)
        near = shapely.distance(lines, shapely.box(*box)) <= 3.0
        found = feeds.about(box, 3.0)
        ends = {tuple(row) for row in np.column_stack([found.row, found.start, found.end]).tolist()}
        columns = np.column_stack([every.row, every.start, every.end])
        assert {tuple(row) for row in columns[near].tolist()} <= ends
        assert (np.diff(found.row) >= 0).all()
        assert len(found) < len(every)


def test_parts_together_are_all_chords(kit, monkeypatch):
    a, b = (0.0, 0.0, 5.0), (0.0, 0.0, -1.0)
    table = MoveTable.of([straight(b, a, Kind.RAPID), straight(a, b), arc(4.0, 4.0, 1.0)] * 5)
    monkeypatch.setattr(module, "_AT_ONCE", 4)
    parts = list(Feeds.of(table, kit.cutter()).parts(1, 14))
    assert len(parts) == 4
    every = Feeds.of(table, kit.cutter()).between(1, 14)
    monkeypatch.setattr(module, "_AT_ONCE", 99)
    np.testing.assert_array_equal(Feeds.of(table, kit.cutter()).between(1, 14).end, every.end)
    np.testing.assert_array_equal(np.concatenate([each.end for each in parts]), every.end)
    assert set(every.row.tolist()) == {1, 2, 4, 5, 7, 8, 10, 11, 13}

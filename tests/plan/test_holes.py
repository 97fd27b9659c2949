from dataclasses import replace

import pytest

from toolpath.drawing.shapes import circle
from toolpath.errors import EntryError
from toolpath.job.model import Side
from toolpath.motion.moves import Kind
from toolpath.plan.holes import holes_before
from toolpath.plan.pocket import plan_pocket

TIGHT = circle(20, 20, 3.1)


def with_hole(shop, **other):
    cut = shop.pocket(TIGHT)
    given = {"depth": 8.0, "diameter": 6.2, "name": "start"} | other
    drill = shop.drill((20.0, 20.0), **given)
    return shop.job(drill, cut), cut


def test_a_cut_without_room_starts_in_a_hole(shop, judge):
    job, cut = with_hole(shop)
    (part,) = plan_pocket(job, cut)
    assert any(note.startswith('starts in a hole of "start" at x 20') for note in part.notes)
    # Straight down only over the hole, which is 8 mm deep; no way down slants.
    downs = [m for m in part.moves if m.end[2] < m.start[2]]
    assert all(m.start[:2] == m.end[:2] == (20.0, 20.0) for m in downs)
    assert judge(part).uncut_share(-6.0) <= 2e-4


@pytest.mark.parametrize(
    "other",
    [
        {"depth": 5.9},
        {"diameter": 5.9},
        {"face": Side.BACK},
    ],
    ids=["too shallow", "too narrow", "other face"],
)
def test_a_hole_that_does_not_serve_is_none(shop, other):
    job, cut = with_hole(shop, **other)
    with pytest.raises(EntryError, match="drill the place first"):
        plan_pocket(job, cut)


def test_only_holes_drilled_before_count(shop):
    job, cut = with_hole(shop)
    assert len(holes_before(job, cut)) == 1
    after = replace(job, cuts=job.cuts[::-1])
    assert holes_before(after, cut) == ()
    with pytest.raises(EntryError):
        plan_pocket(after, cut)


def test_a_hole_that_begins_below_the_cut_is_not_open(shop):
    job, cut = with_hole(shop)
    deep = replace(job.cuts[0], below=2.0)
    assert holes_before(replace(job, cuts=(deep, cut)), cut) == ()


def test_a_wide_hole_is_gone_down_by_rapid(shop):
    job, cut = with_hole(shop, diameter=8.0, depth=12.0)
    (part,) = plan_pocket(job, cut)
    rapids = [m.end[2] for m in part.moves if m.kind is Kind.RAPID]
    assert min(rapids) <= -5.5

from dataclasses import replace

import pytest

from toolpath.drawing.shapes import circle, rect
from toolpath.errors import EntryError
from toolpath.job.model import Box, CheckRules, IfBlocked, Ledge, Piece, Side
from toolpath.plan.blocked import in_the_way, standing_above_ledge
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.tiers import tiers_of

SLAB = Box(size=(200.0, 200.0, 6.0))


def job_of(shop, word, depth, solid=SLAB):
    ledge = Ledge(outline=(rect(0, 0, 60, 50),), depth=3.0)
    cut = replace(
        shop.pocket(rect(10, 10, 50, 40), depth=12.0), if_blocked=IfBlocked(word), ledge=ledge
    )
    piece = Piece(
        name="slab",
        solid=solid,
        at=(30.0, 25.0),
        measured_from=Side.FRONT,
        depth=depth,
        clearance=1.0,
    )
    rules = CheckRules(clearance=1.0, cell=0.5)
    return cut, replace(shop.job(cut), pieces=(piece,), check=rules)


# The gap that is needed is 1.02 and the planner keeps 0.03 more: a slab 4.1 deep lets a ledge of
# 3 mm be cut over it (4.1 - 1.05 = 3.05), one 4.0 deep does not.
@pytest.mark.parametrize(("depth", "names"), [(4.1, ()), (4.0, ("slab",)), (1.5, ("slab",))])
@pytest.mark.parametrize("word", ["rise", "pillar"])
def test_what_stands_above_a_ledge(shop, word, depth, names):
    cut, job = job_of(shop, word, depth)
    assert standing_above_ledge(job, cut) == names


def test_with_stop_the_check_says_it(shop):
    cut, job = job_of(shop, "stop", 1.5)
    assert standing_above_ledge(job, cut) == ()


def test_tiers_are_asked_one_by_one(shop):
    cut, job = job_of(shop, "pillar", 6.0)
    assert [in_the_way(job, cut, tier) for tier in tiers_of(cut)] == [(), ("slab",)]


@pytest.mark.parametrize("word", ["rise", "pillar"])
def test_what_leaves_nothing_to_cut_is_named(shop, word):
    cut, job = job_of(shop, word, 0.5)
    where = '"slab" at x 30.00 y 25.00 comes to 0.5 mm below this face'
    with pytest.raises(EntryError, match=f'"cavity": nothing is left to cut: {where}.*0 mm is cle'):
        plan_pocket(job, cut)


def test_a_floor_that_rises_is_said_though_the_last_cutter_finds_nothing(shop):
    # The slab lies under all of one circle; the other is clear, and the thin cutter idle in both.
    _, job = job_of(shop, "rise", 0.5, Box(size=(40.0, 40.0, 6.0)))
    outline = (circle(30, 25, 12), circle(90, 25, 12))
    thin = shop.cutter(name="flat 3", diameter=3.0)
    cut = replace(shop.pocket(*outline, depth=5.0), smaller=(thin,), if_blocked=IfBlocked.RISE)
    (part,) = plan_pocket(replace(job, cuts=(cut,)), cut)
    assert 'cutter "flat 3" finds nothing left to take' in part.notes
    # pi 12² = 452.4 mm² of it stay (elementary).
    (said,) = [note for note in part.notes if "rises" in note]
    assert said.startswith('the floor rises over "slab": 452.4 mm² lie above a depth of 5 mm')

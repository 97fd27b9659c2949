import itertools
import math
from dataclasses import replace

import pytest

from toolpath.drawing.shapes import circle, rect
from toolpath.errors import EntryError
from toolpath.job.model import Side
from toolpath.plan.programs import plan_cut, plan_programs


def cuts_of(shop):
    return (
        shop.pocket(rect(0, 0, 30, 30), name="a", depth=3.0),
        shop.drill((50.0, 50.0), name="b", face=Side.BACK),
        shop.drill((10.0, 80.0), (20.0, 80.0)),
    )


def test_faces_as_they_first_come_and_cutters_run_together(shop):
    a, b, c = cuts_of(shop)
    thin = replace(
        shop.pocket(circle(80, 80, 10), depth=3.0),
        cutter=shop.cutter(diameter=4.0, name="flat 4"),
    )
    programs = plan_programs(shop.job(a, b, c, thin, a))
    found = [(p.face, p.cutter.name, [each.cut.name for each in p.cuts]) for p in programs]
    assert found == [
        (Side.FRONT, "flat 6", ["a", "holes"]),
        (Side.FRONT, "flat 4", ["cavity"]),
        (Side.FRONT, "flat 6", ["a"]),
        (Side.BACK, "flat 6", ["b"]),
    ]


def test_cuts_of_a_program_join_at_the_safe_height(shop):
    a, _, c = cuts_of(shop)
    (program,) = plan_programs(shop.job(a, c))
    moves = [move for cut in program.cuts for move in cut.moves]
    assert all(math.dist(m.end, n.start) < 1e-9 for m, n in itertools.pairwise(moves))
    assert {cut.moves[-1].end[2] for cut in program.cuts} == {6.0}


def test_each_cut_is_announced_in_cutting_order(shop):
    a, b, c = cuts_of(shop)
    seen = []
    plan_programs(shop.job(a, b, c), on_cut=lambda cut: seen.append(cut.name))
    assert seen == ["a", "holes", "b"]


def test_refusal_names_the_cut(shop):
    cut = shop.pocket(rect(0, 0, 4, 40), name="groove")
    with pytest.raises(EntryError, match='cut "groove"'):
        plan_cut(shop.job(cut), cut)
    with pytest.raises(EntryError, match='cut "groove"'):
        plan_programs(shop.job(cut))

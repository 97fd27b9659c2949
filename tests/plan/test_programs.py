from dataclasses import replace

import pytest

from toolpath.drawing.shapes import circle, rect
from toolpath.errors import EntryError
from toolpath.job.model import Side
from toolpath.plan.programs import in_cutting_order, plan_cut, unbroken_runs


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
    job = shop.job(a, b, c, thin, a)
    parts = [part for cut in in_cutting_order(job) for part in plan_cut(job, cut)]
    found = [
        (run.face, run.cutter.name, [part.cut.name for part in run.cuts])
        for run in unbroken_runs(parts)
    ]
    assert found == [
        (Side.FRONT, "flat 6", ["a", "holes"]),
        (Side.FRONT, "flat 4", ["cavity"]),
        (Side.FRONT, "flat 6", ["a"]),
        (Side.BACK, "flat 6", ["b"]),
    ]


def test_every_cut_starts_and_ends_at_the_clear_height(shop):
    a, b, c = cuts_of(shop)
    job = shop.job(a, b, c)
    for cut in (a, b, c):
        for part in plan_cut(job, cut):
            assert part.moves[0].start[2] == part.moves[-1].end[2] == 6.0


def test_refusal_names_the_cut(shop):
    cut = shop.pocket(rect(0, 0, 4, 40), name="groove")
    with pytest.raises(EntryError, match='cut "groove"'):
        plan_cut(shop.job(cut), cut)

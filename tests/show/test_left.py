from dataclasses import replace

from toolpath.check.left import Spot, Why
from toolpath.job.model import Side
from toolpath.show.left import MOST_ROWS, left_more, left_rows
from toolpath.show.seen import seen_from


def spot(cut, area=1.0, **other):
    given = {"at": (20.0, 30.0), "width": 1.0, "height": 4.0, "why": Why.CORNER, "diameter": 1.9}
    return Spot(cut=cut, area=area, **(given | other))


def with_spots(scene, side, *spots):
    names = [v.planned.cut.name for p in scene.programs if p.face is side for v in p.cuts]
    return replace(scene, left=tuple(replace(each, cut=names[0]) for each in spots)), names[0]


def test_places_are_those_that_the_machine_shows(whole_scene):
    for side in Side:
        scene, name = with_spots(whole_scene, side, spot("x"))
        (row,) = left_rows(scene, side)
        x, y = seen_from(scene.job_of(side), side).point(20.0, 30.0)
        assert (float(row.x), float(row.y)) == (round(x, 2), round(y, 2))
        assert row.cut == name and row.mark == "1"
        assert row.why == "corner smaller than the cutter"
        assert row.mend == "a flat cutter of 1.9 mm takes nine tenths"


def test_what_would_take_it(whole_scene):
    scene, _ = with_spots(
        whole_scene, Side.FRONT, spot("x", cutter="flat 1.5"), spot("x", diameter=0.3),
        spot("x", why=Why.PIECE, of="pebble 3", diameter=None),
        spot("x", why=Why.CLAMP, of="clamp 1", diameter=None),
        spot("x", why=Why.STANDING, diameter=None),
    )  # fmt: skip
    rows = left_rows(scene, Side.FRONT)
    assert [row.mend for row in rows] == [
        '"flat 1.5" takes nine tenths',
        "a cutter under 0.5 mm, or a chisel",
        "no cutter",
        "move the clamp",
        "plan again",
    ]
    assert rows[2].why == "over or round pebble 3" and rows[3].why == "beside clamp 1"


def test_many_places_are_cut_short_and_counted(whole_scene):
    many = [spot("x", area=float(n)) for n in range(MOST_ROWS + 6)]
    scene, _ = with_spots(whole_scene, Side.FRONT, *many)
    assert len(left_rows(scene, Side.FRONT)) == MOST_ROWS
    total = sum(each.area for each in many)
    assert left_more(scene, Side.FRONT) == f"and 6 more places, {total:g} mm² in all: see plan.json"
    assert left_more(whole_scene, Side.FRONT) == ""

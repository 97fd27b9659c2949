"""Ways in and the pieces under them; discs and squares by hand."""

import math
from dataclasses import replace

import pytest
import shapely
from shapely.geometry import LineString, Point, box

from toolpath.drawing.shapes import circle, rect, slot
from toolpath.job.model import Cylinder, Drift, Hardness, Piece, Rule, Side
from toolpath.motion.moves import Kind
from toolpath.plan.below import Ground
from toolpath.plan.pocket import plan_pocket


def cog(at, *, diameter=20.0, depth=20.0, name="cog", **other):
    given = {"hardness": Hardness.METAL, "drift": Drift(side=1.0, rise=0.5)} | other
    return Piece(
        name=name,
        solid=Cylinder(diameter=diameter, height=6.0),
        at=at,
        measured_from=Side.FRONT,
        depth=depth,
        clearance=1.0,
        **given,
    )


def descents(part):
    """Where a part goes down through stock, in plan."""
    lines = []
    for move in part.moves:
        slants = move.kind is not Kind.RAPID and move.end[2] < move.start[2]
        if slants and move.start[:2] != move.end[:2]:
            if move.kind is Kind.ARC:
                radius = math.dist(move.start[:2], move.centre)
                lines.append(Point(move.centre).buffer(radius))
            else:
                lines.append(LineString([move.start[:2], move.end[:2]]))
    return shapely.union_all(lines)


def planned(shop, outline, *pieces):
    cut = shop.pocket(outline)
    (part,) = plan_pocket(replace(shop.job(cut), pieces=pieces), cut)
    return part


def test_a_helix_goes_where_nothing_lies_below(shop):
    over, free = planned(shop, rect(0, 0, 80, 60)), planned(shop, rect(0, 0, 80, 60), cog((40, 30)))
    grown = Point(40, 30).buffer(10.0 + 1.0 + 3.0)
    assert descents(over).intersects(grown)
    assert descents(free).area > 0 and not descents(free).intersects(grown.buffer(-0.05))
    assert not any("above" in note for note in free.notes)


def test_where_all_lies_over_a_piece_that_is_said(shop):
    part = planned(shop, circle(40, 30, 8), cog((40, 30)))
    (note,) = part.notes
    # 20 mm below the face, less the rise of 0.5.
    assert note.startswith('goes down above "cog", which begins 19.5 mm below this face')


def test_a_soft_piece_is_gone_down_over_rather_than_a_hard_one(shop):
    wood = cog((60, 30), diameter=50.0, depth=12.0, name="wood", hardness=Hardness.WOOD)
    metal = cog((20, 30), diameter=50.0, depth=30.0)
    part = planned(shop, rect(8, 20, 72, 40), metal, wood)
    assert 'above "wood"' in part.notes[0]
    assert not descents(part).intersects(Point(20, 30).buffer(25.0 + 1.0 + 2.95))


def test_of_two_alike_the_deeper_one(shop):
    high, deep = cog((20, 30), diameter=60.0, depth=10.0, name="high"), cog((60, 30), diameter=60.0)
    part = planned(shop, rect(8, 20, 72, 40), high, deep)
    assert 'above "cog"' in part.notes[0]


def test_a_ramp_goes_to_and_fro_along_the_free_end_of_a_channel(shop, judge):
    # A channel too narrow for a helix, its left half over a cog.
    part = planned(shop, slot(0, 0, 80, 0, 7.0), cog((10, 0), diameter=40.0))
    assert part.notes == ()
    down = descents(part)
    assert down.bounds[0] >= 10 + 20 + 1 + 3 - 0.05
    judged = judge(part)
    assert judged.uncut_share(-6.0) <= 1e-4
    assert judged.steepest() <= math.radians(3.0) + 1e-9
    judged.assert_straight_descents_in_air()


@pytest.mark.parametrize(
    ("hardness", "through", "said"),
    [
        (Hardness.WOOD, False, False),
        (Hardness.GLASS, False, True),
        (Hardness.GLASS, True, False),
    ],
)
def test_over_what_the_cut_may_go_into_nothing_is_said(shop, hardness, through, said):
    cut = replace(shop.pocket(rect(0, 0, 80, 60)), through_hard=through)
    piece = cog((40, 30), rule=Rule.MAY_CUT, hardness=hardness)
    ground = Ground.under(replace(shop.job(cut), pieces=(piece,)), cut, box(3, 3, 77, 57), 3.0)
    assert [each.piece for each in ground.pieces] == [piece]
    assert bool(ground.note(Point(40, 30))) == said


def test_the_way_in_keeps_off_what_may_be_cut_too(shop):
    soft = cog((40, 30), rule=Rule.MAY_CUT, hardness=Hardness.WOOD)
    part = planned(shop, rect(0, 0, 80, 60), soft)
    assert descents(part).area > 0
    assert not descents(part).intersects(Point(40, 30).buffer(10.0 + 1.0 + 2.95))


def test_over_what_may_be_cut_rather_than_over_what_may_not(shop):
    soft = cog((60, 30), diameter=50.0, depth=7.0, rule=Rule.MAY_CUT, hardness=Hardness.WOOD)
    kept = cog((20, 30), diameter=50.0, depth=40.0, name="kept", hardness=Hardness.WOOD)
    part = planned(shop, rect(8, 20, 72, 40), kept, soft)
    assert part.notes == ()
    assert not descents(part).intersects(Point(20, 30).buffer(25.0 + 1.0 + 2.95))


@pytest.mark.parametrize("count", [0, 1, 3, 40])
def test_choices_go_from_all_pieces_to_none(shop, count):
    cut = shop.pocket(rect(0, 0, 80, 60))
    pieces = tuple(cog((i, 30), diameter=4.0, depth=10.0 + i) for i in range(count))
    ground = Ground.under(replace(shop.job(cut), pieces=pieces), cut, box(3, 3, 77, 57), 3.0)
    areas = [area.area for area in ground.choices()]
    assert areas == sorted(areas, reverse=True) and areas[-1] == 0.0
    assert len(areas) <= 9

"""Skims judged by their moves: shapely says what they sweep."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import Point

from toolpath.drawing.shapes import circle, rect
from toolpath.job.model import Cylinder, IfBlocked, Piece, Side, Skim, SkimWay, Surface
from toolpath.motion.moves import Kind
from toolpath.plan.skim import plan_skim

BLANK = rect(-200, -200, 200, 200)


def skim(shop, outline=BLANK, *, depth=1.0, face=Side.FRONT, cutter=None, **other):
    tool = cutter or shop.cutter(diameter=40.0, stepover=0.6, stepdown=1.0, name="flat 40")
    return Skim(name="skim", face=face, cutter=tool, depth=depth, outline=(outline,), **other)


def planned(shop, judge, *pieces, surfaces=None, outline=BLANK, **other):
    cut = skim(shop, outline, **other)
    job = shop.job(cut)
    blank = replace(job.blank, outline=outline)
    job = replace(job, pieces=pieces, surfaces=surfaces or {}, blank=blank)
    return judge(plan_skim(job, cut))


def cog(**other):
    given = {
        "name": "cog",
        "solid": Cylinder(diameter=60.0, height=6.0),
        "at": (40.0, 25.0),
        "measured_from": Side.FRONT,
        "depth": 1.2,
        "clearance": 1.0,
    }
    return Piece(**(given | other))


@pytest.mark.parametrize("way", SkimWay)
@pytest.mark.parametrize("face", Side)
@pytest.mark.parametrize("along", [0.0, 0.6])
@pytest.mark.parametrize("outline", [BLANK, circle(0, 0, 150)])
def test_all_of_the_face_is_taken(shop, judge, area, way, face, along, outline):
    judged = planned(shop, judge, way=way, face=face, along=along, outline=outline)
    assert area(outline).difference(judged.cut_at(-1.0)).area == pytest.approx(0.0, abs=1e-6)
    assert judged.planned.uncut_area == 0.0
    judged.assert_way_is_whole()


@pytest.mark.parametrize("way", SkimWay)
def test_the_cutter_goes_down_beside_the_blank(shop, judge, area, way):
    judged = planned(shop, judge, way=way, depth=2.5)
    blank = area(BLANK)
    downs = [m for m in judged.planned.moves if m.end[2] < m.start[2]]
    assert len(downs) >= 3
    for move in downs:
        assert move.start[:2] == move.end[:2]
        if move.end[2] < 0.0:
            assert blank.distance(Point(move.end[:2])) >= 20.0 + 0.5
    levels = sorted({move.end[2] for move in judged.feeds})
    assert levels == pytest.approx([-2.5, -5.0 / 3, -2.5 / 3])


def test_strokes_lie_a_step_apart_at_most(shop, judge):
    judged = planned(shop, judge)
    rows = sorted({round(m.end[1], 6) for m in judged.feeds if m.start[1] == m.end[1]})
    assert max(np.diff(rows)) <= 0.6 * 40 + 1e-9
    # The first takes a step of the blank, the last runs out over the far edge.
    assert rows[0] + 20 == pytest.approx(-200 + 0.6 * 40)
    assert rows[-1] + 20 > 200


@pytest.mark.parametrize(("face", "sense"), [(Side.FRONT, -1.0), (Side.BACK, 1.0)])
def test_rings_climb(shop, judge, face, sense):
    """Stock on the right of travel as seen on the machine, with a spindle that turns clockwise
    (common practice): clockwise round what is left on the front; the back's page is mirrored."""
    judged = planned(shop, judge, way=SkimWay.SPIRAL, face=face)
    flat = [m for m in judged.feeds if m.start[2] == m.end[2] == -1.0]
    ring = np.array([m.start[:2] for m in flat[1:-1]])
    x, y = ring.T
    turned = np.unwrap(np.arctan2(y, x))
    assert sense * (turned[-1] - turned[0]) > 0.0


def test_a_narrow_blank_takes_one_stroke(shop, judge, area):
    strip = rect(-100, -10, 100, 10)
    judged = planned(shop, judge, outline=strip)
    assert len(judged.feeds) == 2
    assert area(strip).difference(judged.cut_at(-1.0)).area == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("way", SkimWay)
def test_a_pillar_stays_round_a_piece(shop, judge, area, way):
    judged = planned(shop, judge, cog(), if_blocked=IfBlocked.PILLAR, way=way)
    cut = judged.cut_at(-1.0)
    assert cut.distance(Point(40, 25)) >= 30 + 1.02
    column = Point(40, 25).buffer(30 + 1.3, quad_segs=256)
    assert area(BLANK).difference(column).difference(cut).area < 1e-4 * 160000
    assert judged.planned.notes[0].startswith('pillar round "cog"')
    assert len(judged.planned.notes) == 1  # of the cover of a piece that is not skimmed: nothing


def test_a_floor_rises_over_a_piece(shop, judge, area):
    judged = planned(shop, judge, cog(), if_blocked=IfBlocked.RISE)
    over = [m for m in judged.feeds if Point(m.end[:2]).distance(Point(40, 25)) < 30.0]
    lowest = min(m.end[2] for m in over)
    # The clear floor over the cog lies 1.02 mm above its top, 1.2 mm down: at -0.18.
    assert -0.18 <= lowest <= -0.18 + 0.3


def test_what_stays_over_the_pieces_is_listed(shop, judge):
    pieces = [cog(name=f"cog {n}", depth=3.0 + n, at=(0.0, 0.0)) for n in range(14)]
    (note,) = planned(shop, judge, *pieces).planned.notes
    assert note.startswith('stays over the pieces, drift included: "cog 0" 2 mm, "cog 1" 3 mm')
    assert note.endswith('"cog 11" 13 mm, and 2 more')


def test_a_high_face_takes_more_levels(shop, judge):
    places = ((-200.0, -200.0), (200.0, -200.0), (-200.0, 200.0), (0.0, 0.0))
    surfaces = {Side.FRONT: Surface(places=places, heights=(0.0, 0.0, 0.0, 1.5))}
    judged = planned(shop, judge, surfaces=surfaces)
    levels = sorted({m.end[2] for m in judged.feeds})
    assert levels == pytest.approx([-1.0, -1.0 + 2.5 / 3, -1.0 + 5.0 / 3])
    entered = [m for m in judged.feeds if m.end[2] < m.start[2]]
    assert all(Point(m.end[:2]).distance(shapely.box(-200, -200, 200, 200)) > 20 for m in entered)
    assert "measured at 4 places: 0 mm to 1.5 mm above Z 0" in judged.planned.notes[0]


def test_rapids_stay_above_what_stands(shop, judge):
    judged = planned(shop, judge, cog(), if_blocked=IfBlocked.PILLAR, depth=2.0)
    for move in judged.rapids:
        if move.end[:2] != move.start[:2]:
            assert move.end[2] >= 6.0
    assert all(m.kind is not Kind.ARC or m.sweep for m in judged.feeds)

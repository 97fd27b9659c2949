import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point

from toolpath.errors import EntryError
from toolpath.job.model import Side
from toolpath.motion.moves import Kind, MoveTable
from toolpath.plan.bore import helix_radii
from toolpath.plan.drill import plan_drill


def bored(shop, diameter, *at, depth=10.0, below=0.0, face=Side.FRONT, **cutter):
    cut = shop.drill(*(at or ((20.0, 30.0),)), depth=depth, face=face, **cutter)
    cut = replace(cut, diameter=diameter, below=below)
    return plan_drill(shop.job(cut), cut)


def outermost(found, middle):
    """Furthest that the cutter's edge comes from the middle below the face, from the moves."""
    low = [m for m in found.moves if m.kind is not Kind.RAPID and min(m.start[2], m.end[2]) < 0]
    table = MoveTable.of(low)
    rows = np.repeat(np.arange(len(low)), 41)
    points = table.at(rows, np.tile(np.linspace(0, 1, 41), len(low)))
    return np.hypot(*(points[:, :2] - middle).T).max() + found.cutter.radius


@pytest.mark.parametrize("diameter", [6.3, 8.0, 11.0, 12.0, 20.0, 35.0])
def test_holes_have_their_diameter_and_no_post(shop, diameter):
    found = bored(shop, diameter)
    assert 2.0 * outermost(found, (20.0, 30.0)) == pytest.approx(diameter, abs=0.005)
    flat = [
        LineString(MoveTable.of([m]).at(np.zeros(33, dtype=int), np.linspace(0, 1, 33))[:, :2])
        for m in found.moves
        if m.kind is Kind.ARC and m.start[2] == m.end[2] == -10.0
    ]
    swept = shapely.union_all([line.buffer(3.0, quad_segs=64) for line in flat])
    hole = Point(20.0, 30.0).buffer(diameter / 2.0 - 0.03, quad_segs=64)
    assert hole.difference(swept).area < 1e-6


@pytest.mark.parametrize("diameter", [6.3, 9.0, 20.0])
@pytest.mark.parametrize("stepdown", [0.3, 3.0])
def test_turns_keep_to_ramp_stepdown_and_plunge(shop, judge, diameter, stepdown):
    judged = judge(bored(shop, diameter, (0.0, 0.0), (60.0, 10.0), stepdown=stepdown))
    judged.assert_way_is_whole()
    assert judged.steepest() <= math.radians(3.0)
    assert judged.fastest_down() <= 300.0 * (1 + 1e-9)
    for move in judged.feeds:
        if move.kind is Kind.ARC:
            pitch = abs(move.end[2] - move.start[2]) / abs(move.sweep) * 2.0 * math.pi
            assert pitch <= stepdown + 1e-9
    # Straight down only through air, above the face.
    straight = [m for m in judged.feeds if m.start[:2] == m.end[:2]]
    assert straight
    assert all(m.end[2] == 0.5 for m in straight)


@pytest.mark.parametrize(("face", "turn"), [(Side.FRONT, 1.0), (Side.BACK, -1.0)])
def test_it_climbs(shop, face, turn):
    # Material on the right of travel as seen on the machine with M3 (common practice): inside a
    # hole counter-clockwise, on the page of the back the mirror image of that.
    found = bored(shop, 12.0, face=face)
    assert {math.copysign(1.0, m.sweep) for m in found.moves if m.sweep} == {turn}


@pytest.mark.parametrize("diameter", [8.0, 20.0])
def test_it_comes_up_and_goes_down_in_the_middle_only(shop, diameter):
    found = bored(shop, diameter)
    for move in found.moves:
        if move.start[:2] == move.end[:2]:
            assert move.end[:2] == pytest.approx((20.0, 30.0), abs=1e-9)


def test_what_was_cut_before_is_not_bored_again(shop):
    found = bored(shop, 8.0, below=7.0)
    downs = [m.end[2] for m in found.moves if m.kind is Kind.RAPID and m.end[2] < m.start[2]]
    assert downs == [-6.0]
    assert max(m.start[2] for m in found.moves if m.sweep) == -6.5


def test_a_wide_hole_is_opened_a_stepover_at_a_time(shop):
    radii = helix_radii(20.0, shop.cutter())
    assert radii[0] == pytest.approx(0.45 * 6)
    assert radii[-1] == 7.0
    assert max(np.diff(radii)) <= 2.4 + 1e-9
    assert helix_radii(11.0, shop.cutter()) == (2.5,)


def test_a_hole_hardly_wider_than_the_cutter_is_refused(shop):
    with pytest.raises(EntryError, match=r'"holes": holes of 6.02 mm are too narrow .* 6.1 mm'):
        bored(shop, 6.02)

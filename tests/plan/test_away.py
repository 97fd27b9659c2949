import math
from dataclasses import replace

import numpy as np
import pytest

from toolpath.drawing.shapes import circle, rect
from toolpath.job.model import Cylinder, Drift, Piece, Rule, Shoe, Side
from toolpath.plan.away import Away, holds_material
from toolpath.plan.circuit import Circuit


def pebble(**other):
    given = {
        "name": "pebble",
        "solid": Cylinder(diameter=20.0, height=5.0),
        "at": (50.0, 50.0),
        "measured_from": Side.FRONT,
        "depth": 10.0,
        "clearance": 1.5,
        "drift": Drift(side=2.0),
    }
    return Piece(**(given | other))


def away(shop, *pieces, clamps=()):
    job = replace(shop.job(clamps=clamps), pieces=pieces)
    return Away.of(job, Side.FRONT, shop.cutter(), (0.0, 0.0, 100.0, 100.0))


@pytest.mark.parametrize("rule", list(Rule))
def test_room_is_measured_from_the_drifted_piece(shop, rule):
    found = away(shop, pebble(rule=rule))
    # Radius 10, drift 2, cutter 3, clearance 1.5.
    spare = found.spare(np.array([[50.0, 66.5], [50.0, 65.5], [90.0, 90.0]]))
    assert spare == pytest.approx([0.0, -1.0, 0.0], abs=0.03)
    assert math.sqrt(found.taken.area / math.pi) == pytest.approx(15.0, abs=0.03)


def test_clamps_count_with_the_nut_and_only_on_their_face(shop):
    # The nut's radius 11, clearance 1, path error 0.02 and 1 mm.
    found = away(shop, clamps=[shop.clamp(10.0)])
    assert found.spare(np.array([[13.02, 10.0], [10.02, 10.0]])) == pytest.approx([0.0, -3.0])
    other = away(shop, clamps=[shop.clamp(10.0, Side.BACK)])
    assert other.taken.is_empty
    assert other.spare(np.array([[0.0, 0.0]])) == [0.0]


@pytest.mark.parametrize(("drop", "kept"), [(0.0, 42.02), (-20.0, 13.02)])
def test_a_dust_shoe_counts_where_it_comes_down_to_a_clamp(shop, drop, kept):
    # Reach 45; 42 of blank and 0.5 of spoilboard: in the deepest cut the edge of a shoe level with
    # the nut is 2.5 above the face, of one that stands 20 above it 22.5. The clamp is 10 high.
    job = shop.job(clamps=[shop.clamp(10.0)])
    nut = replace(job.machine.nut, shoe=Shoe(diameter=80.0, drop=drop))
    job = replace(job, machine=replace(job.machine, nut=nut))
    found = Away.of(job, Side.FRONT, shop.cutter(), (0.0, 0.0, 100.0, 100.0))
    assert found.from_clamps == pytest.approx(kept)


def test_pieces_far_off_are_left_out(shop):
    assert away(shop, pebble(at=(400.0, 50.0))).pieces.is_empty


def test_a_small_circle_leaves_nothing_inside():
    for radius, left in ((2.9, False), (3.1, True)):
        points = Circuit(circle(0, 0, radius).outer.points).points(0.05)
        assert holds_material(points, 3.0) is left
    assert holds_material(Circuit(rect(0, 0, 20, 10).outer.points).points(0.5), 3.0)

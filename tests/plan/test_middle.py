import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from toolpath.drawing.shapes import circle, polygon, rect
from toolpath.job.model import Ledge, Plate, Sheet
from toolpath.plan.middle import discs_at, room_at, roomiest, top_of, track_of
from toolpath.plan.seat import seat_of


@pytest.fixture
def seat(shop):
    def make(outline, cavity):
        cut = shop.pocket(cavity, depth=20.0)
        cut = replace(cut, ledge=Ledge(outline=(outline,), depth=3.0))
        sheet = Sheet(size=(200.0, 150.0), thickness=3.0)
        return seat_of(Plate(cut=cut, gap=0.25, cutter=shop.cutter(diameter=3.0), sheet=sheet))

    return make


def test_room_is_the_distance_to_the_nearer_edge(seat):
    found = room_at(seat(rect(0, 0, 80, 60), rect(10, 10, 70, 50)), np.array([[40.0, 4.0]]))
    assert found == pytest.approx([3.75], abs=1e-3)


def test_room_is_below_zero_off_the_ledge(seat):
    spots = np.array([[40.0, 30.0], [0.1, 30.0], [-5.0, 30.0]])
    assert (room_at(seat(rect(0, 0, 80, 60), rect(10, 10, 70, 50)), spots) < 0).all()


def test_the_middle_of_a_round_ledge_is_a_circle(seat):
    # Plate of radius 39.75, cavity of 30: discs of radius 4.875 about 34.875 (by hand).
    track = track_of(seat(circle(0, 0, 40), circle(0, 0, 30)), 3.0)
    assert np.hypot(*track.centre.T) == pytest.approx(34.875, abs=0.01)
    assert track.room == pytest.approx(4.875, abs=0.01)
    assert track.corners == ()


def test_every_disc_lies_on_the_ledge_and_touches_both_edges(seat):
    ell = polygon([(0, 0), (80, 0), (80, 30), (30, 30), (30, 70), (0, 70)])
    at = seat(ell, polygon([(9, 9), (71, 9), (71, 21), (21, 21), (21, 61), (9, 61)]))
    track = track_of(at, 3.0)
    centres = shapely.points(track.centre)
    rim = shapely.distance(at.plate.exterior, centres)
    cavity = shapely.distance(at.cavity, centres)
    assert (np.minimum(rim, cavity) > track.room - 0.01).all()
    # A row ends at the cavity or, about corners, at another part of the plate's edge.
    assert (track.room <= cavity + 0.01).all()
    assert np.median(cavity - track.room) < 0.01


def test_corners_are_the_outward_ones(seat):
    at = seat(polygon([(0, 0), (80, 0), (80, 30), (30, 30), (30, 70), (0, 70)]), rect(9, 9, 21, 61))
    track = track_of(at, 3.0)
    ring = shapely.orient_polygons(at.plate).exterior
    found = sorted(tuple(np.round(p.coords[0], -1)) for p in ring.interpolate(
        track.along[list(track.corners)]
    ))  # fmt: skip
    assert found == [(0, 0), (0, 70), (30, 70), (80, 0), (80, 30)]


def test_the_largest_disc_in_a_corner_is_that_of_the_formula(seat):
    at = seat(rect(0, 0, 80, 60), rect(10, 10, 70, 50))
    # Touches two sides 0.25 in and the corner of radius 3 about (13, 13): its radius c solves
    # (12.75 - c) sqrt 2 = 3 + c.
    largest = (12.75 * math.sqrt(2) - 3) / (1 + math.sqrt(2))
    along = np.linspace(0, at.plate.exterior.length, 2000)
    best = roomiest(at, along)
    centre, room = discs_at(at, np.array([best]))
    assert room[0] == pytest.approx(largest, abs=0.01)
    spot = np.minimum(centre[0], [80, 60] - centre[0])
    assert spot == pytest.approx([largest + 0.25] * 2, abs=0.02)


def test_the_top_of_a_disc(seat):
    at = seat(circle(0, 0, 40), circle(0, 0, 30))
    centre, _ = discs_at(at, np.array([top_of(at)]))
    assert centre[0] == pytest.approx([0.0, 34.875], abs=0.3)


def test_apart_goes_the_shorter_way_round(seat):
    track = track_of(seat(circle(0, 0, 40), circle(0, 0, 30)), 3.0)
    assert track.apart(0.0).max() <= track.length / 2
    assert track.apart(track.length).min() < 0.5

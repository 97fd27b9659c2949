"""The truth itself: values worked by hand, and its two ways to know a solid against each other."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
import trimesh
from proof import triangles, upright
from proof.jobs import random_case
from proof.nouns import Cutter, Job, Piece
from proof.solids import closed
from proof.ways import from_page, to_page, ways_of
from proof.words import ARC, LINE, RAPID, UnreadError, read

FLAT = Cutter(shape="flat", diameter=6.0, flute_length=25.0, shank=6.0, reach=40.0)


def job_of(solid, shape=None, *, cutter=FLAT, **changes):
    piece = Piece(
        name="cog", solid=solid, shape=shape, at=(70.0, 60.0), face="front", depth=8.0, **changes
    )
    return Job(
        units="mm",
        box=(10.0, 20.0, 130.0, 100.0),
        thickness=40.0,
        within=0.0,
        turn_over="left-right",
        zeros={},
        face="front",
        path_error=0.02,
        clearance=1.0,
        cell=0.2,
        nut=22.0,
        cutter=cutter,
        pieces=(piece,),
    )


def upright_gap(job, *lines):
    ways = ways_of(job, read("\n".join(lines), "mm"))
    return upright.gap(ways, upright.standing(job, job.pieces[0]))[:2]


BESIDE = ("G0 Z5", "G0 X30 Y60", "G1 Z-10 F300", "G1 X90")
OVER = ("G0 Z5", "G0 X60 Y40", "G1 Z-5 F300")


@pytest.mark.parametrize(
    ("solid", "changes", "lines", "gap"),
    [
        # Zero at (10, 20). A box 20 x 10 x 6 ends at y = 65, the cutter at 80 - 3 = 77.
        ({"kind": "box", "size": [20.0, 10.0, 6.0]}, {}, BESIDE, 12.0),
        ({"kind": "box", "size": [20.0, 10.0, 6.0]}, {"side": 1.5}, BESIDE, 10.5),
        # Turned by 90 degrees it ends at y = 70; swinging by 90 it reaches half its diagonal.
        ({"kind": "box", "size": [20.0, 10.0, 6.0]}, {"turn": 90.0}, BESIDE, 7.0),
        ({"kind": "box", "size": [20.0, 10.0, 6.0]}, {"swing": 90.0}, BESIDE, 17 - 125**0.5),
        ({"kind": "cylinder", "diameter": 24.0, "height": 6.0}, {}, BESIDE, 5.0),
        ({"kind": "cylinder", "diameter": 24.0, "height": 6.0}, {"rise": 0.5}, OVER, 2.5),
        # A ball of radius 4 whose top is 8 deep: 3 below the flat end.
        ({"kind": "sphere", "diameter": 8.0}, {}, OVER, 3.0),
    ],
)
def test_gaps_worked_by_hand(solid, changes, lines, gap):
    low, high = upright_gap(job_of(solid, **changes), *lines)
    assert low <= gap <= high + 1e-9
    assert high - low < 0.005


def test_a_full_circle_round_a_cylinder():
    job = job_of({"kind": "cylinder", "diameter": 24.0, "height": 6.0})
    lines = ("G0 Z5", "G0 X80 Y40", "G1 Z-9 F300", "G3 X80 Y40 I-20 J0")
    low, high = upright_gap(job, *lines)
    assert low <= 20.0 - 12.0 - 3.0 <= high + 1e-9


def test_ways_as_read():
    text = (
        "G20\nG0 Z1\nG0 X0 Y0\nG91 G1 X1 F9\nG90 G2 X0 Y0 I-0.5 J0\nG18 G3 X1 Z1 I0.5 K0\nM2\nG1 X9"
    )
    ways = read(text, "mm")
    assert [way.kind for way in ways] == [RAPID, LINE, ARC, ARC]
    np.testing.assert_allclose(ways[1].b, [25.4, 0.0, 25.4])
    assert ways[2].sweep == pytest.approx(-math.pi)
    assert ways[2].centre == pytest.approx((12.7, 0.0))
    assert ways[3].plane == 18  # a full turn in ZX, from Z1 X0 to the same Z1 X1: half a turn
    assert abs(ways[3].sweep) == pytest.approx(math.pi)
    with pytest.raises(UnreadError):
        read("G1 X#1", "mm")


def test_an_arc_by_radius_goes_the_short_way():
    # From (10, 0) to (0, 10), radius 10, counter-clockwise: a quarter about (0, 0).
    way = read("G0 Z0\nG0 X10 Y0\nG3 X0 Y10 R10 F9", "mm")[-1]
    assert way.centre == pytest.approx((0.0, 0.0), abs=1e-9)
    assert way.sweep == pytest.approx(math.pi / 2.0)
    way = read("G0 Z0\nG0 X10 Y0\nG3 X0 Y10 R-10 F9", "mm")[-1]
    assert way.centre == pytest.approx((10.0, 10.0))
    assert way.sweep == pytest.approx(3.0 * math.pi / 2.0)


def test_places_go_to_the_blank_and_back():
    rng = np.random.default_rng(5)
    for turn_over in ("left-right", "top-bottom"):
        job = replace(job_of({"kind": "sphere", "diameter": 8.0}), face="back", turn_over=turn_over)
        points = rng.uniform(-50.0, 50.0, (20, 3))
        np.testing.assert_allclose(from_page(job, to_page(job, points)), points, atol=1e-9)


def test_tops_are_closed_and_their_higher_fold_is_taken():
    # Corners 0, 0 and 2, 2 above the foot across each other: the fold along the twos is at 2.
    points, faces = closed(np.array([[1.0, 3.0], [3.0, 1.0]]), [4.0, 4.0])
    body = trimesh.Trimesh(points, faces)
    assert body.is_watertight
    # 16 (1 + 2 * 2 / 3): two tetrahedral roofs over a foot of 4 x 4, the ridge at 3.
    assert body.volume == pytest.approx(16.0 * (1.0 + 4.0 / 3.0))


def as_mesh(piece):
    """A box or cylinder as closed triangles, the cylinder inside the true one by 0.002 mm."""
    if piece.kind == "box":
        body = trimesh.creation.box(extents=piece.solid["size"])
    else:
        radius, height = piece.solid["diameter"] / 2.0, piece.solid["height"]
        body = trimesh.creation.cylinder(radius=radius, height=height, sections=300)
    shape = (np.asarray(body.vertices), np.asarray(body.faces))
    return replace(piece, solid={"kind": "mesh"}, shape=shape)


def test_footprints_and_triangles_agree():
    compared = 0
    for seed in (0, 1, 5, 10, 11, 15, 20, 21, 25):
        case = random_case(seed)
        piece, near = case.job.pieces[0], case.truth.near[0]
        if near.high > 6.5 or piece.swing > 10.0:
            continue
        ways = ways_of(case.job, read(case.text, case.job.units))
        low, high, _ = triangles.gap(ways, triangles.solid_of(case.job, as_mesh(piece)))
        assert low - 0.002 <= near.high
        assert near.low <= high + 1e-9
        compared += 1
    assert compared >= 4


def test_a_prism_that_turns_is_the_union_of_its_turned_places():
    area = shapely.box(0.0, 0.0, 14.0, 5.0)
    solid = {"kind": "prism", "outline": {"rect": [0, 0, 14, 5]}, "height": 6.0}
    prism = job_of(solid, area, swing=20.0, turn=30.0)
    box = job_of({"kind": "box", "size": [14.0, 5.0, 6.0]}, swing=20.0, turn=30.0)
    lines = ("G0 Z5", "G0 X60 Y55", "G1 Z-9 F300", "G1 X75 Y48")
    one, two = upright_gap(prism, *lines), upright_gap(box, *lines)
    assert one[0] <= two[1]
    assert two[0] <= one[1]


def test_of_what_is_far_off_no_upper_bound_is_known():
    # A cube of 4 mm around (70, 60), the cutter 30 mm beside it.
    body = trimesh.creation.box(extents=(4.0, 4.0, 4.0))
    job = job_of({"kind": "mesh"}, (np.asarray(body.vertices), np.asarray(body.faces)))
    ways = ways_of(job, read("G0 Z5\nG0 X20 Y40\nG1 Z-9 F300", "mm"))
    low, high, _ = triangles.gap(ways, triangles.solid_of(job, job.pieces[0]))
    assert 6.9 < low <= triangles.FAR
    assert high == math.inf


def test_the_hollow_of_a_round_over_is_its_radius_from_the_edge_that_it_rounds():
    # The box's edge is at x = 60, z = -8: the middle of the quarter round, 6 mm from the axis at
    # the height of the tip. All of the curve is its radius, 3 mm, from there.
    words = {"radius": 3.0}
    cutter = replace(FLAT, shape="round-over", diameter=12.0, shank=12.0, words=words)
    job = job_of({"kind": "box", "size": [20.0, 10.0, 6.0]}, cutter=cutter)
    lines = ("G0 Z5", "G0 X44 Y40", "G1 Z-8 F300")
    low, high = upright_gap(job, *lines)
    assert low <= 3.0 + 1e-6
    assert high == pytest.approx(3.0, abs=1e-3)
    assert high - low < 0.006

import math

import numpy as np
import pytest
import shapely
import shapely.affinity

from toolpath.check.gap import to_footprint
from toolpath.check.report import Code
from toolpath.check.solids import BED, Foot, clamp_need, simple_solids, standing
from toolpath.job.model import Box, Clamp, Cylinder, Drift, Mesh, Side, Sphere, TurnOver


def alone(kit, piece, side=Side.FRONT, **job):
    return simple_solids(kit.job((piece,), **job), side)[1]


def covers(parts, xy, margin=0.0):
    """(k,) whether any part of the solids covers points in plan, widened by `margin`."""
    found = np.zeros(len(xy), dtype=bool)
    for index in range(len(parts)):
        many = parts.take(np.full(len(xy), index))
        found |= to_footprint(many, xy)[1] <= many.pad + margin
    return found


@pytest.mark.parametrize(
    ("measured", "side", "expected"),
    [
        # 40 thick, 6 high, depth 8, thickness uncertain by 0.7, rise 0.4.
        (Side.FRONT, Side.FRONT, (-14.0, -8.0, 0.4)),
        (Side.BACK, Side.FRONT, (-32.0, -26.0, 1.1)),
        (Side.BACK, Side.BACK, (-14.0, -8.0, 0.4)),
        (Side.FRONT, Side.BACK, (-32.0, -26.0, 1.1)),
    ],
)
def test_how_a_piece_stands(kit, measured, side, expected):
    solid = Cylinder(diameter=10.0, height=6.0)
    piece = kit.piece(solid, measured_from=measured, drift=Drift(rise=0.4))
    job = kit.job((piece,), within=0.7)
    assert standing(job, piece, side, 6.0) == pytest.approx(expected)
    low, high = simple_solids(job, side)[1].boxes()
    assert (low[0, 2], high[0, 2]) == pytest.approx(
        (expected[0] - expected[2], expected[1] + expected[2])
    )


def test_a_ball_is_rounded_and_a_cylinder_is_not(kit):
    drift = Drift(side=0.5, rise=0.3, turn=1.0)
    ball = alone(kit, kit.piece(Sphere(diameter=10.0), drift=drift))
    assert (ball.rounding[0], ball.pad[0]) == (5.0, 0.5)
    assert (ball.z0[0], ball.z1[0]) == pytest.approx((-13.3, -12.7))
    low, high = ball.boxes()
    np.testing.assert_allclose(low, [[60 - 5.5, 40 - 5.5, -18.3]])
    np.testing.assert_allclose(high, [[60 + 5.5, 40 + 5.5, -7.7]])
    post = alone(kit, kit.piece(Cylinder(diameter=10.0, height=6.0), drift=drift))
    assert (post.rounding[0], post.pad[0]) == (0.0, 5.5)


@pytest.mark.parametrize("drift_turn", [0.0, 0.3, 4.0])
@pytest.mark.parametrize(
    ("side", "turn_over"),
    [(Side.FRONT, TurnOver.LEFT_RIGHT)] + [(Side.BACK, each) for each in TurnOver],
)
def test_a_box_covers_all_its_turns_and_no_more(kit, side, turn_over, drift_turn):
    size, turn = (20.0, 7.0, 5.0), 0.4
    piece = kit.piece(Box(size=size), turn=turn, drift=Drift(turn=drift_turn))
    parts = alone(kit, piece, side, turn_over=turn_over)
    # The turned boxes of shapely about (70, 60) of the blank frame, seen on the machine:
    # the blank spans x 10 to 130, y 20 to 100.
    most = min(drift_turn, math.pi / 2.0)  # a box is its own half turn
    base = shapely.box(60.0, 56.5, 80.0, 63.5)
    turned = shapely.union_all(
        [
            shapely.affinity.rotate(base, turn + way, origin=(70.0, 60.0), use_radians=True)
            for way in np.linspace(-most, most, 301)
        ]
    )
    xy = np.random.default_rng(3).uniform((45.0, 35.0), (95.0, 85.0), (1500, 2))
    away = shapely.distance(turned, shapely.points(xy))
    if side is Side.FRONT:
        seen = xy - (10.0, 20.0)
    elif turn_over is TurnOver.LEFT_RIGHT:
        seen = np.column_stack([130.0 - xy[:, 0], xy[:, 1] - 20.0])
    else:
        seen = np.column_stack([xy[:, 0] - 10.0, 100.0 - xy[:, 1]])
    covered = covers(parts, seen)
    assert covered[away == 0.0].all()
    # A corner goes 0.11 between two of the turns: what is further off is open.
    assert not covered[away > 0.06].any()
    assert (away == 0.0).sum() > 50
    assert (away > 0.06).sum() > 100
    low, high = parts.boxes()
    assert (seen[covered] >= low[:, :2].min(axis=0)).all()
    assert (seen[covered] <= high[:, :2].max(axis=0)).all()


def test_drift_to_the_side_widens_every_part(kit):
    box, drift = Box(size=(20.0, 7.0, 5.0)), Drift(turn=0.3)
    still = alone(kit, kit.piece(box, drift=drift))
    moved = alone(kit, kit.piece(box, drift=Drift(turn=0.3, side=0.8)))
    assert {Foot(f) for f in still.foot.tolist()} == {Foot.RECT, Foot.SECTOR}
    np.testing.assert_allclose(moved.pad - still.pad, 0.8)


def test_owners_are_pieces_in_order_then_the_clamps_of_the_face(kit):
    clamps = tuple(
        Clamp(name=f"clamp {n}", face=face, outline=(kit.circle(x, 60.0, 6.0),), height=15.0)
        for n, (face, x) in enumerate([(Side.BACK, 20.0), (Side.FRONT, 40.0), (Side.FRONT, 110.0)])
    )
    mesh = Mesh(file=None, vertices=np.eye(3), triangles=np.array([[0, 1, 2]]))
    pieces = (
        kit.piece(Sphere(diameter=9.0), name="pebble", clearance=2.0),
        kit.piece(mesh, name="shell"),
        kit.piece(Box(size=(9.0, 9.0, 4.0)), name="cog"),
    )
    job = kit.job(pieces, clamps=clamps)
    owners, parts = simple_solids(job, Side.FRONT)
    assert [o.name for o in owners] == ["pebble", "shell", "cog", "clamp 1", "clamp 2"]
    assert [o.code for o in owners] == [Code.PIECE] * 3 + [Code.CLAMP] * 2
    assert [o.need for o in owners] == pytest.approx([2.02, 1.02, 1.02, 1.02, 1.02])
    assert clamp_need(job) == pytest.approx(1.02)
    # A mesh has no simple solid; each part points at its own owner.
    assert sorted(set(parts.owner.tolist())) == [0, 2, 3, 4]
    low, high = parts.boxes()
    first, second = (int(np.flatnonzero(parts.owner == n)[0]) for n in (3, 4))
    np.testing.assert_allclose((low[first] + high[first])[:2] / 2.0, (30.0, 40.0), atol=0.01)
    np.testing.assert_allclose((low[second] + high[second])[:2] / 2.0, (100.0, 40.0), atol=0.01)
    # A clamp stands on the bed, and its chords lie outside its circle.
    assert (low[first, 2], high[first, 2]) == (BED, 15.0)
    area = parts.areas[int(parts.hx[first])]
    assert math.pi * 36.0 <= area.area < math.pi * 36.0 * 1.001
    back, _ = simple_solids(job, Side.BACK)
    assert [o.name for o in back][3:] == ["clamp 0"]


def test_taking_keeps_the_order_asked_for(kit):
    pieces = tuple(kit.piece(Sphere(diameter=d), at=(d, 60.0)) for d in (30.0, 40.0, 50.0))
    parts = simple_solids(kit.job(pieces), Side.FRONT)[1]
    assert parts.take(np.array([2, 0, 0])).x.tolist() == [40.0, 20.0, 20.0]

from pathlib import Path

import numpy as np
import pytest
import trimesh
from trimesh.transformations import rotation_matrix

from toolpath.check.gap import to_footprint
from toolpath.check.meshtree import mesh_trees
from toolpath.job.model import Drift, Heights, Mesh, Side, Sphere, TurnOver

TILT, TURN, AT = (0.7, -0.4), 0.9, (75.0, 55.0)


def solid_of(shape, *, watertight=True, tilt=TILT):
    return Mesh(
        file=Path("shape.stl"),
        vertices=np.array(shape.vertices),
        triangles=np.array(shape.faces, dtype=np.int64),
        watertight=watertight,
        tilt=tilt,
    )


@pytest.fixture
def wedge():
    # No turn or mirror maps it onto itself.
    shape = trimesh.creation.box(extents=(14.0, 8.0, 5.0)).subdivide().subdivide()
    shape.vertices[:, 2] *= 1.0 + 0.05 * shape.vertices[:, 0] + 0.03 * shape.vertices[:, 1]
    return shape


def tree_of(kit, mesh, side=Side.FRONT, **more):
    job = more.pop("job", {})
    return mesh_trees(kit.job((kit.piece(mesh, at=AT, turn=TURN, **more),), **job), side)[0]


def placed(shape):
    """The shape as the job's words have it, blank frame, by trimesh: depth 8 below the front."""
    moved = shape.copy()
    for angle, axis in ((TILT[0], (1, 0, 0)), (TILT[1], (0, 1, 0)), (TURN, (0, 0, 1))):
        moved.apply_transform(rotation_matrix(angle, axis))
    low, high = moved.bounds
    moved.apply_translation((*(np.array(AT) - (low + high)[:2] / 2.0), -8.0 - high[2]))
    return moved


def triangles(corners):
    """Triangles told apart by their middles and areas, in a fixed order."""
    middle = corners.mean(axis=1)
    area = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    rows = np.round(np.column_stack([middle, area]), 6)
    return rows[np.lexsort(rows.T)]


@pytest.mark.parametrize("turn_over", [None, *TurnOver])
def test_it_lies_where_trimesh_puts_it(kit, wedge, turn_over):
    corners = placed(wedge).triangles.copy()
    side, job = Side.FRONT, {}
    if turn_over is None:  # the blank spans x 10 to 130, y 20 to 100, 40 thick
        corners -= (10.0, 20.0, 0.0)
    else:
        side, job = Side.BACK, {"turn_over": turn_over}
        left_right = turn_over is TurnOver.LEFT_RIGHT
        corners *= (-1.0, 1.0, -1.0) if left_right else (1.0, -1.0, -1.0)
        corners += (130.0, -20.0, -40.0) if left_right else (-10.0, 100.0, -40.0)
    tree = tree_of(kit, solid_of(wedge), side, job=job)
    np.testing.assert_allclose(triangles(tree.corners), triangles(corners), atol=2e-6)


def test_every_node_holds_its_triangles_and_its_sample(kit, wedge):
    tree = tree_of(kit, solid_of(wedge))
    count = len(tree.corners)
    assert count == len(wedge.faces)
    assert len(tree.level(tree.top)) == 1
    for level in range(tree.top + 1):
        for node, box in enumerate(tree.level(level)):
            held = tree.corners[node << level : (node + 1) << level].reshape(-1, 3)
            np.testing.assert_array_equal(box[:3], held.min(axis=0))
            np.testing.assert_array_equal(box[3:6], held.max(axis=0))
            assert (np.abs(held - box[6:]).sum(axis=1) == 0.0).any()


def test_neighbours_lie_together(kit):
    ball = trimesh.creation.icosphere(subdivisions=3, radius=6.0)
    tree = tree_of(kit, solid_of(ball))
    span = np.prod(tree.level(4)[:, 3:6] - tree.level(4)[:, :3], axis=1).sum()
    whole = np.prod(tree.boxes[-1, 3:6] - tree.boxes[-1, :3])
    # 80 nodes of 16 triangles: triangles in no order would make each nearly as large as the whole.
    assert len(tree.level(4)) == 80
    assert span < 4.0 * whole


def test_grown_boxes_hold_every_drift(kit, wedge):
    drift = Drift(side=0.6, rise=0.4, turn=0.25)
    tree = tree_of(kit, solid_of(wedge), drift=drift)
    corners = tree.corners.reshape(-1, 3)
    level = 2
    every = tree.nodes(level, np.arange(len(tree.level(level))))
    low, high = tree.grown_box()
    node = np.repeat(np.arange(len(tree.corners)), 3) >> level
    grown = every.take(node)
    # Turned about the place of the piece in plan: (75 - 10, 55 - 20).
    for way in np.linspace(-0.25, 0.25, 11):
        c, s = np.cos(way), np.sin(way)
        xy = (corners[:, :2] - (65.0, 35.0)) @ np.array([[c, s], [-s, c]]) + (65.0, 35.0)
        for aside in ((0.6, 0.0), (0.0, -0.6), (-0.6 * 0.8, 0.6 * 0.6)):
            beyond = to_footprint(grown, xy + aside)[1] - grown.pad
            assert beyond.max() <= 1e-9
            assert (xy + aside >= low[:2] - 1e-9).all()
            assert (xy + aside <= high[:2] + 1e-9).all()
    assert (grown.z0 <= corners[:, 2] - 0.4 + 1e-9).all()
    assert (grown.z1 >= corners[:, 2] + 0.4 - 1e-9).all()
    # Not grown without end: a chord of 0.25 rad at the far corner and the drift to the side.
    far = np.hypot(*(corners[:, :2] - (65.0, 35.0)).T).max()
    assert every.pad.max() <= 0.6 + 0.25 * np.sqrt(2.0) * far


def test_samples_grow_by_what_is_certain_only(kit, wedge):
    tree = tree_of(kit, solid_of(wedge), drift=Drift(side=0.6, rise=0.4, turn=0.25))
    node = np.arange(len(tree.level(1)))
    at = tree.samples(1, node)
    np.testing.assert_array_equal(at.x, tree.level(1)[:, 6])
    assert set(at.pad.tolist()) == {0.6}
    np.testing.assert_allclose(at.z1 - at.z0, 0.8)


def test_a_mesh_with_holes_is_its_hull(kit, wedge):
    whole = trimesh.creation.box(extents=(10.0, 10.0, 10.0)).subdivide()
    lidless = whole.submesh([np.flatnonzero(whole.triangles_center[:, 2] < 4.9)])[0]
    tilt = (0.0, 0.0)
    open_top = tree_of(kit, solid_of(lidless, watertight=False, tilt=tilt)).corners
    kept = tree_of(kit, solid_of(lidless, tilt=tilt)).corners

    def over_the_top(corners):
        high = corners[..., 2].max()
        return ((corners[..., 2] > high - 1e-9).all(axis=1)).sum()

    assert over_the_top(kept) == 0
    assert over_the_top(open_top) >= 2


def test_a_flat_mesh_with_holes_is_taken_as_it_is(kit):
    flat = Mesh(
        file=Path("flat.stl"),
        vertices=np.array([[0.0, 0, 0], [4, 0, 0], [0, 4, 0], [4, 4, 0]]),
        triangles=np.array([[0, 1, 2], [1, 3, 2]]),
        watertight=False,
    )
    assert len(tree_of(kit, flat).corners) == 2


def test_owners_are_places_in_the_job(kit, wedge):
    mesh = solid_of(wedge)
    pieces = (kit.piece(Sphere(diameter=9.0)), kit.piece(mesh), kit.piece(mesh))
    assert [tree.owner for tree in mesh_trees(kit.job(pieces), Side.FRONT)] == [1, 2]


def test_uncertain_thickness_raises_what_is_measured_from_the_other_face(kit, wedge):
    mesh, drift = solid_of(wedge), Drift(rise=0.4)
    rises = [tree_of(kit, mesh, side, drift=drift, job={"within": 0.7}).rise for side in Side]
    assert rises == pytest.approx([0.4, 1.1])


@pytest.fixture
def tops():
    rng = np.random.default_rng(5)
    x, y = np.meshgrid(np.linspace(0.0, 9.0, 4), np.linspace(0.0, 10.0, 5))
    points = np.column_stack([x.ravel(), y.ravel(), rng.uniform(1.0, 6.0, x.size)])
    first = (np.arange(4)[:, None] * 4 + np.arange(3)).ravel()
    one = np.stack([first, first + 1, first + 4], axis=1)
    two = np.stack([first + 1, first + 4, first + 5], axis=1)  # some seen from below
    return Heights(file=Path("scan.csv"), points=points, triangles=np.concatenate([one, two]))


@pytest.mark.parametrize("measured_from", list(Side))
def test_measured_tops_are_closed_down_to_their_foot(kit, tops, measured_from):
    tree = tree_of(kit, tops, measured_from=measured_from)
    skin = trimesh.Trimesh(*_welded(tree.corners))
    assert skin.is_watertight
    assert skin.is_winding_consistent
    # Under a triangle stands its area times the middle of its heights.
    corners = tops.points[tops.triangles]
    a, b = (corners[:, 1:, :2] - corners[:, :1, :2]).transpose(1, 0, 2)
    area = np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2.0
    assert skin.volume == pytest.approx((area * corners[..., 2].mean(axis=1)).sum(), rel=1e-6)
    top = tops.points[:, 2].max()
    low, high = skin.bounds[:, 2]
    if measured_from is Side.FRONT:  # the greatest height is the nearest point to the front
        assert (low, high) == pytest.approx((-8.0 - top, -8.0))
    else:  # the foot is the nearest point to the back, 40 below
        assert (low, high) == pytest.approx((-32.0, -32.0 + top))
    c, s = np.cos(TURN), np.sin(TURN)
    turned = tops.points[:, :2] @ np.array([[c, s], [-s, c]])
    half = (turned.max(axis=0) - turned.min(axis=0)) / 2.0
    np.testing.assert_allclose(
        skin.bounds[:, :2], np.array([65.0, 35.0]) + np.array([-1, 1])[:, None] * half, atol=1e-6
    )


def test_measured_tops_seen_from_the_back(kit, tops):
    front = tree_of(kit, tops).corners.reshape(-1, 3)
    back = tree_of(kit, tops, Side.BACK).corners.reshape(-1, 3)
    # Turned over left to right the kit's blank, 120 wide and 40 thick, maps x and z so.
    seen = front * (-1.0, 1.0, -1.0) + (120.0, 0.0, -40.0)
    order, other = np.lexsort(seen.round(6).T), np.lexsort(back.round(6).T)
    np.testing.assert_allclose(seen[order], back[other], atol=1e-6)


def _welded(corners):
    points, index = np.unique(corners.reshape(-1, 3).round(7), axis=0, return_inverse=True)
    return points, index.reshape(-1, 3)

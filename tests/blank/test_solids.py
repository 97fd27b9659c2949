import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
from shapely import affinity

from toolpath.blank.solids import empty, raise_to_outline, raise_to_piece, round_up
from toolpath.drawing.outline import Loop, Region
from toolpath.field.grid import Grid
from toolpath.job.model import Blank, Box, Cylinder, Drift, Mesh, Piece, Side, Sphere

GRID = Grid(x0=40.03, y0=-0.01, cell=0.5, rows=80, columns=80)


def mesh_of(shape: trimesh.Trimesh, **changed) -> Mesh:
    return Mesh(
        file=Path("shell.stl"),
        vertices=np.array(shape.vertices, dtype=np.float64),
        triangles=np.array(shape.faces, dtype=np.int64),
        **changed,
    )


def wedge() -> Mesh:
    """A tilted, lopsided solid: the hull of six fixed points."""
    points = np.array([[0, 0, 0], [9, 1, 0], [2, 8, 1], [1, 2, 7], [8, 6, 3], [5, 1, 6.0]])
    return mesh_of(trimesh.convex.convex_hull(points), tilt=(0.3, -0.5))


SOLIDS = {
    "box": Box(size=(12.0, 7.0, 5.0)),
    "cylinder": Cylinder(diameter=11.0, height=4.0),
    "sphere": Sphere(diameter=10.0),
    "mesh": wedge(),
}
DRIFTS = [Drift(), Drift(side=1.3, rise=0.5), Drift(side=0.4, rise=0.2, turn=0.2)]


def top_of(blank: Blank, piece: Piece, side: Side, grid: Grid = GRID) -> np.ndarray:
    z = empty(grid)
    raise_to_piece(z, grid, blank, piece, side)
    return z


def surface(solid, rng, count):
    """Random points of a solid about the middle of its box, and its height: own formulas."""
    u = rng.uniform(-0.5, 0.5, (count, 3))
    if isinstance(solid, Box):
        u[: count // 2] = np.sign(u[: count // 2]) / 2  # corners
        return u * solid.size, solid.size[2]
    angle = rng.uniform(0, 2 * np.pi, count)
    if isinstance(solid, Cylinder):
        radius = solid.diameter / 2 * np.sqrt(rng.random(count))
        radius[: count // 2] = solid.diameter / 2
        flat = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
        return np.column_stack([flat, np.sign(u[:, 2]) * solid.height / 2]), solid.height
    if isinstance(solid, Sphere):
        v = rng.normal(size=(count, 3))
        return v / np.linalg.norm(v, axis=1)[:, None] * solid.diameter / 2, solid.diameter
    shape = trimesh.Trimesh(solid.vertices, solid.triangles, process=False)
    points = np.concatenate(
        [trimesh.sample.sample_surface(shape, count, seed=4)[0], shape.vertices]
    )
    turn_x = trimesh.transformations.rotation_matrix(solid.tilt[0], [1, 0, 0])
    turn_y = trimesh.transformations.rotation_matrix(solid.tilt[1], [0, 1, 0])
    return trimesh.transform_points(points, turn_y @ turn_x), None


def cloud(blank: Blank, piece: Piece, side: Side, rng, count=20000):
    """Points of a piece, each at a drift of its own, in the page frame of a face."""
    points, height = surface(piece.solid, rng, count)
    c, s = math.cos(piece.turn), math.sin(piece.turn)
    turned = points @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    if height is None:
        ends = turned[-6:] if len(turned) > count else turned
        turned = turned - (ends.min(axis=0) + ends.max(axis=0)) / 2
        height = np.ptp(ends[:, 2])
    n = len(turned)
    d = piece.drift
    turn, way = rng.choice([-1, 1, 0.3], n) * d.turn, rng.uniform(0, 2 * np.pi, n)
    x = turned[:, 0] * np.cos(turn) - turned[:, 1] * np.sin(turn)
    y = turned[:, 0] * np.sin(turn) + turned[:, 1] * np.cos(turn)
    aside = d.side * rng.choice([1.0, 0.6], n)
    middle = -piece.depth - height / 2
    thickness = blank.thickness + rng.choice([-1, 1], n) * blank.thickness_within
    if piece.measured_from is Side.BACK:
        middle = -thickness + piece.depth + height / 2
    z = turned[:, 2] + middle + rng.choice([-1, 1], n) * d.rise
    page = z if side is Side.FRONT else -thickness - z
    xy = np.column_stack([x + aside * np.cos(way), y + aside * np.sin(way)]) + piece.at
    return xy, page


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("measured_from", list(Side))
@pytest.mark.parametrize("drift", DRIFTS)
@pytest.mark.parametrize("kind", sorted(SOLIDS))
def test_no_point_of_a_drifted_piece_is_over_the_bound(
    blank, piece, kind, drift, measured_from, side
):
    body = blank(thickness_within=0.4)
    cog = piece(SOLIDS[kind], turn=0.7, drift=drift, measured_from=measured_from)
    xy, z = cloud(body, cog, side, np.random.default_rng(8))
    found = top_of(body, cog, side)
    columns = np.floor((xy[:, 0] - GRID.x0) / GRID.cell).astype(int)
    rows = np.floor((xy[:, 1] - GRID.y0) / GRID.cell).astype(int)
    over = z - found[rows, columns]
    assert over.max() <= 1e-9
    # and not far over: some point comes near the bound of its cell
    assert over.max() >= -0.3


@pytest.mark.parametrize("drift", DRIFTS)
@pytest.mark.parametrize("kind", ["box", "cylinder", "sphere"])
def test_simple_solids_fill_just_the_cells_they_touch(blank, piece, kind, drift):
    cog = piece(SOLIDS[kind], turn=0.7, drift=drift)
    found = np.isfinite(top_of(blank(), cog, Side.FRONT))
    if kind == "box":
        plain = shapely.box(54, 16.5, 66, 23.5)
        angles = 0.7 + np.linspace(-drift.turn, drift.turn, 801)
        area = shapely.union_all(
            [affinity.rotate(plain, a, origin=(60, 20), use_radians=True) for a in angles]
        )
    else:
        area = shapely.Point(60, 20).buffer(SOLIDS[kind].diameter / 2, quad_segs=256)
    x, y = np.meshgrid(GRID.x0 + np.arange(80) * GRID.cell, GRID.y0 + np.arange(80) * GRID.cell)
    apart = shapely.distance(shapely.box(x, y, x + GRID.cell, y + GRID.cell), area)
    # chords of the library's disc and the 801 positions fall short by less than 0.002
    assert (found >= (apart <= drift.side)).all()
    assert (found <= (apart <= drift.side + 0.002)).all()


def test_sphere_tops_are_exact_over_the_closed_cell(blank, piece):
    found = top_of(blank(), piece(Sphere(diameter=10), drift=Drift(side=1.0)), Side.FRONT)
    # cells by hand: column of x 63.53..64.03 and row of y 19.99..20.49: nearest point to the
    # axis at (60, 20) is (63.53, 20), 2.53 beyond the side drift
    assert found[40, 47] == pytest.approx(-13 + math.sqrt(25 - 2.53**2), abs=1e-5)
    assert found[40, 40] == pytest.approx(-8, abs=1e-6)


def test_a_mesh_box_equals_a_box(blank, piece):
    block = trimesh.creation.box(extents=(12, 7, 5))
    for drift, most in ((Drift(), 0), (Drift(side=1.0, rise=0.3), 1), (Drift(turn=0.1), 2)):
        cog = piece(SOLIDS["box"], turn=0.7, drift=drift)
        for side in Side:
            true = top_of(blank(), cog, side)
            mesh = top_of(blank(), replace(cog, solid=mesh_of(block)), side)
            both = np.isfinite(true)
            assert mesh[both] == pytest.approx(true[both], abs=1e-5)
            # what is more lies in a rim of so many cells
            near = np.zeros_like(both)
            for dy in range(-most, most + 1):
                for dx in range(-most, most + 1):
                    near |= np.roll(both, (dy, dx), axis=(0, 1))
            assert not (np.isfinite(mesh) & ~near).any()


def test_a_mesh_sphere_equals_a_sphere(blank, piece):
    ball = trimesh.creation.icosphere(subdivisions=4, radius=5.0)
    cog = piece(Sphere(diameter=10))
    true = top_of(blank(), cog, Side.BACK)
    mesh = top_of(blank(), replace(cog, solid=mesh_of(ball)), Side.BACK)
    inner = np.isfinite(true) & (true > true.max() - 3.0)
    # facets lie inside the ball by less than edge^2 / (8 r) = 0.35^2 / 40
    assert (mesh <= true + 1e-4).all()
    assert (mesh[inner] >= true[inner] - 0.02).all()


def test_a_mesh_with_holes_counts_as_its_hull(blank, piece):
    block = trimesh.creation.box(extents=(12, 7, 5))
    lid = block.face_normals[:, 2] > 0.5
    open_box = Mesh(
        file=Path("open.stl"),
        vertices=np.array(block.vertices),
        triangles=np.array(block.faces[~lid], dtype=np.int64),
        watertight=False,
    )
    cog = piece(SOLIDS["box"], turn=0.7)
    hull = top_of(blank(), replace(cog, solid=open_box), Side.FRONT)
    assert hull == pytest.approx(top_of(blank(), cog, Side.FRONT), abs=1e-5)


@pytest.mark.parametrize("kind", sorted(SOLIDS))
def test_patches_show_the_same_as_the_whole(blank, piece, kind):
    cog = piece(SOLIDS[kind], turn=0.7, drift=DRIFTS[2])
    whole = top_of(blank(), cog, Side.FRONT)
    for row, column in ((35, 38), (0, 70), (30, 20), (52, 52)):
        patch = Grid(
            x0=GRID.x0 + column * GRID.cell,
            y0=GRID.y0 + row * GRID.cell,
            cell=GRID.cell,
            rows=10,
            columns=10,
        )
        part = top_of(blank(), cog, Side.FRONT, patch)
        there = whole[row : row + 10, column : column + 10]
        assert np.array_equal(np.isfinite(part), np.isfinite(there))
        some = np.isfinite(there)
        assert part[some] == pytest.approx(there[some], abs=1e-4)


def test_outlines_cover_every_cell_they_touch():
    ring = Region(
        outer=Loop(points=np.array([[50.0, 20, 1.0], [70.0, 20, 1.0]])),
        holes=(Loop.of_polygon([(58, 18), (62, 18), (62, 22), (58, 22)]),),
    )
    z = empty(GRID)
    raise_to_outline(z, GRID, (ring,), 18.0)
    true = shapely.Point(60, 20).buffer(10, quad_segs=512).difference(shapely.box(58, 18, 62, 22))
    x, y = np.meshgrid(GRID.x0 + np.arange(80) * 0.5, GRID.y0 + np.arange(80) * 0.5)
    apart = shapely.distance(shapely.box(x, y, x + 0.5, y + 0.5), true)
    assert ((z == 18.0) >= (apart == 0)).all()
    assert ((z == 18.0) <= (apart < 0.001)).all()
    assert (np.isfinite(z) == (z == 18.0)).all()


def test_outlines_beside_the_grid_change_nothing(region):
    z = empty(GRID)
    raise_to_outline(z, GRID, (region(-50, -50, -40, -40), region(500, 0, 510, 10)), 18.0)
    assert np.isinf(z).all()


def test_rounding_is_up():
    values = np.array([0.1, -0.1, 1 / 3, -8.0, -np.inf])
    up = round_up(values)
    assert (up.astype(np.float64) >= values).all()
    assert up[:4] == pytest.approx(values[:4], abs=1e-6)
    assert up[3] == -8.0


def drifted(points, drift, rng):
    """Points about the place of a piece, each turned and moved aside by a drift of its own."""
    n = len(points)
    turn, way = rng.choice([-1, 1, 0.3], n) * drift.turn, rng.uniform(0, 2 * np.pi, n)
    x = points[:, 0] * np.cos(turn) - points[:, 1] * np.sin(turn)
    y = points[:, 0] * np.sin(turn) + points[:, 1] * np.cos(turn)
    aside = drift.side * rng.choice([1.0, 0.6], n)
    return np.column_stack([x + aside * np.cos(way), y + aside * np.sin(way)])


def assert_just_over(found, xy, z):
    """No point stands over the bound of its cell, and some come near it."""
    columns = np.floor((xy[:, 0] - GRID.x0) / GRID.cell).astype(int)
    rows = np.floor((xy[:, 1] - GRID.y0) / GRID.cell).astype(int)
    over = z - found[rows, columns]
    assert -0.3 <= over.max() <= 1e-6


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("drift", DRIFTS)
def test_prisms_and_measured_tops_stay_under_their_bounds(
    blank, piece, angle_iron, driftwood, drift, side
):
    rng = np.random.default_rng(3)
    # half the points of the L on its rim, all at its top or bottom
    ring = shapely.Polygon([(100, 50), (120, 50), (120, 54), (105, 54), (105, 62), (100, 62)])
    plan = shapely.get_coordinates(shapely.segmentize(ring, 0.05))
    turned = (plan - [110, 56]) @ np.array([[0.0, 1.0], [-1.0, 0.0]])
    xy = drifted(np.tile(turned, (9, 1)), drift, rng) + np.array([60, 20])
    top = drift.rise - (8.0 if side is Side.FRONT else 42 - 8 - 6.0)
    iron = piece(angle_iron, turn=math.pi / 2, drift=drift)
    assert_just_over(top_of(blank(), iron, side), xy, np.full(len(xy), top))
    # tops by their samples, from the front; the foot, level, from the back
    sample = driftwood.points
    turned = (sample[:, :2] - [8, 4]) @ np.array([[0.0, 1.0], [-1.0, 0.0]])
    xy = drifted(np.tile(turned, (60, 1)), drift, rng) + np.array([60, 20])
    z = np.tile(sample[:, 2], 60) - 6 - 8.0 + drift.rise
    wood = piece(driftwood, turn=math.pi / 2, drift=drift)
    z = z if side is Side.FRONT else np.full(len(xy), top)
    assert_just_over(top_of(blank(), wood, side), xy, z)


def test_a_prism_fills_just_the_cells_it_touches(blank, piece, angle_iron):
    iron = piece(angle_iron, drift=Drift(side=0.7))
    found = np.isfinite(top_of(blank(), iron, Side.FRONT))
    area = shapely.Polygon([(50, 14), (70, 14), (70, 18), (55, 18), (55, 26), (50, 26)])
    x, y = np.meshgrid(GRID.x0 + np.arange(80) * GRID.cell, GRID.y0 + np.arange(80) * GRID.cell)
    apart = shapely.distance(shapely.box(x, y, x + GRID.cell, y + GRID.cell), area)
    assert (found >= (apart <= 0.7)).all()
    assert (found <= (apart <= 0.706)).all()

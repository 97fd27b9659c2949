import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
from shapely import affinity

from toolpath.blank.shadow import SHADOW_ERROR, cells_as_area, grown, shadow
from toolpath.field.grid import Grid
from toolpath.job.model import Box, Cylinder, Drift, Mesh, Sphere


def outline_of(piece):
    """The silhouette by other means: own corners, or the library's union of all triangles."""
    solid, at = piece.solid, np.array(piece.at)
    if isinstance(solid, Box):
        x, y = solid.size[0] / 2, solid.size[1] / 2
        plain = shapely.box(at[0] - x, at[1] - y, at[0] + x, at[1] + y)
        return affinity.rotate(plain, piece.turn, origin=tuple(at), use_radians=True)
    if isinstance(solid, Cylinder | Sphere):
        return shapely.Point(at).buffer(solid.diameter / 2, quad_segs=512)
    shape = trimesh.Trimesh(solid.vertices, solid.triangles, process=False)
    for angle, axis in ((solid.tilt[0], [1, 0, 0]), (solid.tilt[1], [0, 1, 0])):
        shape.apply_transform(trimesh.transformations.rotation_matrix(angle, axis))
    shape.apply_transform(trimesh.transformations.rotation_matrix(piece.turn, [0, 0, 1]))
    xy = shape.vertices[:, :2]
    xy = xy - (xy.min(axis=0) + xy.max(axis=0)) / 2 + at
    return shapely.union_all(shapely.buffer(shapely.polygons(xy[shape.faces]), 1e-9))


def assert_just_outside(found, true, most=SHADOW_ERROR):
    assert true.difference(found).area < 1e-9
    assert found.difference(true.buffer(most, quad_segs=64)).area < 1e-9


@pytest.mark.parametrize("grow", [0.0, 1.3])
def test_shadows_as_stated(piece, pebble, grow):
    for solid in (Box(size=(12, 7, 5)), Cylinder(diameter=11, height=4), pebble()):
        cog = piece(solid, turn=0.7, drift=Drift(side=1.0, turn=0.3))
        true = outline_of(cog).buffer(grow, quad_segs=256)
        assert_just_outside(shadow(cog, drifted=False, grow=grow), true)


@pytest.mark.parametrize("turn", [0.05, 0.3])
def test_shadows_with_drift_cover_all_places_and_little_more(piece, pebble, angle_iron, turn):
    drift = Drift(side=0.4, turn=turn)
    iron = piece(angle_iron, turn=0.7, drift=drift)
    off = replace(iron, at=(61.0, 20.5))
    for cog in (piece(Box(size=(12, 7, 5)), drift=drift), piece(pebble(), drift=drift), iron, off):
        plain = shadow(cog, drifted=False, grow=0.0)
        angles = np.linspace(-turn, turn, 161)
        turned = [affinity.rotate(plain, a, origin=cog.at, use_radians=True) for a in angles]
        true = shapely.union_all(turned).buffer(0.4 + 0.5, quad_segs=128)
        # the notches between 161 places of a rim 12 mm out are under 1e-3 deep
        assert_just_outside(shadow(cog, drifted=True, grow=0.5), true, SHADOW_ERROR + 0.002)


def test_a_piece_that_may_turn_anywhere_is_a_disc(piece, angle_iron):
    iron = piece(angle_iron, drift=Drift(turn=math.pi))
    found = shadow(iron, drifted=True, grow=0.0)
    # the far corners of the L lie at the corners of its box of 20 x 12
    assert_just_outside(found, shapely.Point(60, 20).buffer(math.hypot(10, 6), quad_segs=512))


def test_measured_tops_and_rings_keep_their_holes(piece, driftwood):
    assert_just_outside(
        shadow(piece(driftwood), drifted=True, grow=0.0), shapely.box(52, 16, 68, 24)
    )
    ring = trimesh.creation.annulus(r_min=4.0, r_max=7.0, height=3.0)
    mesh = Mesh(
        file=Path("ring.stl"),
        vertices=np.array(ring.vertices),
        triangles=np.array(ring.faces, dtype=np.int64),
    )
    cog = piece(mesh)
    found = shadow(cog, drifted=True, grow=0.0)
    assert_just_outside(found, outline_of(cog))
    assert len(found.interiors) == 1


def test_very_many_triangles_are_looked_at_in_cells(piece, pebble, monkeypatch):
    cog = piece(pebble())
    monkeypatch.setattr("toolpath.blank.shadow._MOST_JOINED", 100)
    found = shadow(replace(cog, name="other"), drifted=False, grow=0.0)
    assert_just_outside(found, outline_of(cog), 0.03)


def test_growing_errs_outward():
    square = shapely.box(0, 0, 4, 4)
    for distance in (0.001, 0.5, 12.0):
        found = grown(square, distance)
        assert_just_outside(found, square.buffer(distance, quad_segs=2048), 0.006)
    assert grown(square, 0.0) is square


def test_cells_by_hand():
    mask = np.array([[True, True, False, True], [False, True, False, False]])
    found = cells_as_area(mask, Grid(x0=1.0, y0=2.0, cell=0.5, rows=2, columns=4))
    assert found.area == pytest.approx(4 * 0.25)
    assert found.covers(shapely.box(1.0, 2.0, 2.0, 2.5))
    assert found.covers(shapely.box(1.5, 2.5, 2.0, 3.0))
    assert found.covers(shapely.box(2.5, 2.0, 3.0, 2.5))

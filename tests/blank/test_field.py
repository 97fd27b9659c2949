import numpy as np
import pytest
import shapely

from toolpath.blank.field import grid_for, piece_fields
from toolpath.job.model import Box, Clamp, Cylinder, Drift, Nut, Side, Sphere


def clamp(region, face=Side.FRONT):
    return Clamp(name="clamp[1]", face=face, outline=(region(-15, 0, 14, 20),), height=18.0)


def test_the_grid_holds_all_that_can_bind(job, piece, region):
    stray = piece(Sphere(diameter=10), at=(120.0, 20.0), drift=Drift(side=2.0))
    lost = piece(Sphere(diameter=10), at=(900.0, 20.0))
    made = job(pieces=(stray,), clamps=(clamp(region),))
    grid = grid_for(made)
    far = grid_for(job(pieces=(stray, lost), clamps=(clamp(region),)))
    # nut of 22, gap 1 + 0.02 path error, two cells of 0.2
    margin = 11 + 1.02 + 0.4
    assert (grid.x0, grid.y0) == pytest.approx((-15 - margin, -20 - margin))
    x1, y1 = grid.x0 + grid.columns * grid.cell, grid.y0 + grid.rows * grid.cell
    assert 127 + margin <= x1 < 127 + margin + 0.21
    assert 60 + margin <= y1 < 60 + margin + 0.21
    # What lies far from the blank is cut off, so that a wrong unit cannot make the grid huge.
    assert far.columns * far.cell < 300


def test_a_wide_cutter_widens_the_grid(job, cutter):
    wide = job(cutters={"facer": cutter(diameter=40.0)})
    assert grid_for(wide).x0 == pytest.approx(10 - 20 - 1.02 - 0.4)


def test_pieces_are_grouped_by_need(job, piece, region):
    cog, glass = Cylinder(diameter=10, height=4), Box(size=(8, 8, 8))
    pieces = (
        piece(cog, at=(40.0, 0.0)),
        piece(glass, name="glass", at=(90.0, 0.0), clearance=2.5),
        piece(cog, name="other", at=(40.0, 40.0), depth=12.0),
    )
    made = job(pieces=pieces, clamps=(clamp(region),))
    near, far = piece_fields(made, Side.FRONT)
    assert (near.need, far.need) == pytest.approx((1.02, 2.52))
    assert set(np.unique(near.field.z)) == {-np.inf, -12.0, -8.0, 18.0}
    assert set(np.unique(far.field.z)) == {-np.inf, -8.0}
    # 29 x 20 mm of clamp in cells of 0.2, which it does not line up with
    cells = (near.field.z == 18.0).sum() * 0.04
    assert 580 <= cells <= 580 + shapely.box(0, 0, 29, 20).length * 0.3
    back = piece_fields(made, Side.BACK)
    # from the back of 42: cog bottoms 12 and 16 below the front, glass 16
    assert set(np.unique(back[0].field.z)) == {-np.inf, -30.0, -26.0}
    assert back[1].field.z.max() == -26.0


def test_clamps_of_this_face_only(job, region):
    made = job(clamps=(clamp(region, Side.BACK),))
    assert piece_fields(made, Side.FRONT) == ()
    (only,) = piece_fields(made, Side.BACK)
    assert only.need == pytest.approx(1.02)


def test_a_small_nut_does_not_shrink_below_the_cutter(job):
    made = job()
    small = job(
        machine=type(made.machine)(
            travel=(1, 1, 1), feed_max=1, spindle=(1, 2), safe_height=1, nut=Nut(diameter=1.0)
        )
    )
    assert grid_for(small).x0 == pytest.approx(10 - 3 - 1.02 - 0.4)

import numpy as np
import pytest
import shapely

from toolpath.blank.placed import page_top
from toolpath.blank.reach import Reach, Standing
from toolpath.blank.relief import Relief
from toolpath.blank.tooling import profile_of
from toolpath.job.model import Drift, Nut, Side


def relief_of(blank, cog, cutter, within):
    reach = Reach(profile=profile_of(cutter, Nut()), gap=1.05)
    standing = Standing(
        piece=cog,
        side=Side.FRONT,
        top=page_top(blank, cog, Side.FRONT),
        reach=reach,
        deepest=-30.0,
    )
    return Relief.of(standing, within), standing


def test_over_the_samples_of_measured_tops_by_their_formula(blank, piece, cutter, driftwood):
    wood = piece(driftwood)
    relief, standing = relief_of(blank(), wood, cutter(), shapely.box(40, 0, 80, 40))
    xy = np.random.default_rng(2).uniform([47, 11], [73, 29], (200, 2))
    tops = driftwood.points * [1, 1, 1] + [60 - 8, 20 - 4, -8 - 6]
    apart = np.hypot(*(xy[:, None, :] - tops[None, :, :2]).transpose(2, 0, 1))
    # the samples alone are a lower bound; between them the surface is at most 0.6 higher
    # (0.71 mm to the nearest sample, a slope of at most hypot(2 / 3, 1 / 2))
    least = (tops[None, :, 2] - standing.reach.height(apart)).max(axis=1)
    found = relief.lowest(xy, 0.0)
    least[least < -30.0] = -np.inf  # deeper than will be asked
    assert (found >= least - 1e-9).all()
    wide = (tops[None, :, 2] - standing.reach.height(np.maximum(apart - 0.8, 0))).max(axis=1)
    assert (found <= wide + 0.6).all()


def test_only_what_can_bind_is_looked_at(blank, piece, cutter, pebble):
    corner = shapely.box(64, 22, 80, 40)
    whole, _ = relief_of(blank(), piece(pebble()), cutter(), shapely.box(40, 0, 80, 40))
    part, _standing = relief_of(blank(), piece(pebble()), cutter(), corner)
    assert part.grid.count < 0.8 * whole.grid.count
    xy = np.random.default_rng(2).uniform([64, 22], [80, 40], (200, 2))
    assert part.lowest(xy, 0.0) == pytest.approx(whole.lowest(xy, part.error), abs=0.5)
    assert (part.lowest(xy, 0.0) <= whole.lowest(xy, part.error)).all()


def test_a_far_place_is_free(blank, piece, cutter, pebble):
    relief, standing = relief_of(blank(), piece(pebble()), cutter(), shapely.box(40, 0, 80, 40))
    assert np.isinf(relief.lowest(np.array([[60.0 + 8 + standing.wide + 1, 20.0]]), 0.0)).all()
    assert relief.blocked(-6.0, shapely.box(40, 0, 80, 40)).is_empty
    assert relief.blocked(-9.0, shapely.box(200, 0, 240, 40)).is_empty


def test_it_says_how_far_it_may_err(blank, piece, cutter, pebble):
    box = shapely.box(40, 0, 80, 40)
    still, _ = relief_of(blank(), piece(pebble()), cutter(), box)
    turning, _ = relief_of(blank(), piece(pebble(), drift=Drift(side=0.5, turn=0.1)), cutter(), box)
    assert still.error < 0.05
    assert still.aside == 0.0
    assert still.error < turning.error < 0.08
    assert 0.5 < turning.aside < 0.531


def test_a_height_asked_after_others_is_answered_as_if_asked_alone(blank, piece, cutter, pebble):
    box, heights = shapely.box(40, 0, 80, 40), (-12.0, -11.0, -13.0)
    several, _ = relief_of(blank(), piece(pebble()), cutter(), box)
    found = [several.blocked(z, box) for z in heights]
    for z, after in zip(heights, found, strict=True):
        alone, _ = relief_of(blank(), piece(pebble()), cutter(), box)
        assert alone.blocked(z, box).wkb == after.wkb
    assert found[1].area < found[0].area < found[2].area


def test_the_edge_of_what_is_blocked_lies_where_tips_say(blank, piece, cutter, pebble):
    """Told apart with no limits: no place outside is too low, and none inside by more than the
    steps between nodes are high."""
    box = shapely.box(40, 0, 80, 40)
    relief, _ = relief_of(blank(), piece(pebble()), cutter(), box)
    blocked = relief.blocked(-12.0, box)
    xy = np.random.default_rng(3).uniform([40, 0], [80, 40], (3000, 2))
    inside = shapely.intersects_xy(blocked, xy)
    assert 100 < inside.sum() < 2900
    assert (relief.lowest(xy[~inside], 0.0) <= -12.0).all()
    assert (relief.lowest(xy[inside], 0.1) > -12.0).all()

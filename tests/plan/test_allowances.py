from dataclasses import fields

from toolpath.plan.allowances import ALLOWANCES
from toolpath.tolerances import TOLERANCES


def test_every_allowance_is_positive():
    assert all(getattr(ALLOWANCES, each.name) > 0 for each in fields(ALLOWANCES))


def test_a_helix_leaves_no_post_and_a_ramp_is_never_too_steep():
    # A path radius of half the diameter would leave a point standing (elementary).
    assert ALLOWANCES.helix_least < ALLOWANCES.helix_most < 0.5
    assert ALLOWANCES.slope < 1.0


def test_inner_rings_may_be_coarser_than_walls_but_no_stock_may_hide_between_them():
    assert TOLERANCES.offset < ALLOWANCES.inner_bound
    assert ALLOWANCES.inner_bound + ALLOWANCES.inner_fit < ALLOWANCES.spare


def test_ramps_begin_below_where_the_rapid_ends():
    assert ALLOWANCES.ramp_above_floor < ALLOWANCES.ramp_above_face < ALLOWANCES.rapid_above
    assert ALLOWANCES.peck_above < ALLOWANCES.rapid_above

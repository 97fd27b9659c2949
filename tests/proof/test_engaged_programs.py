"""A few random pockets of bounded engagement over pieces; `run.py --engaged` makes more."""

import pytest
from proof.engaged import one_engaged

SEEDS = [2, 4, 5, 21, 25, 26, 28, 30]


@pytest.mark.parametrize("seed", SEEDS)
def test_no_planned_pocket_is_refused_or_comes_too_near(seed):
    found = one_engaged(seed)
    assert found.word == "clear"
    assert found.false == ""

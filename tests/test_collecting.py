"""Garbage is looked for seldom within the block and as before after it, also after an error."""

import gc

import pytest

from toolpath.collecting import seldom_collected


def test_looks_are_fewer_within_and_as_before_after() -> None:
    before, rounds = gc.get_threshold(), gc.get_stats()[0]["collections"]
    with seldom_collected():
        kept = [[number] for number in range(50_000)]
        assert gc.get_stats()[0]["collections"] == rounds
        assert gc.get_threshold()[0] > before[0]
    assert gc.get_threshold() == before
    assert len(kept) == 50_000


def test_an_error_does_not_leave_it_seldom() -> None:
    before = gc.get_threshold()
    with pytest.raises(ValueError, match="stop"), seldom_collected():
        raise ValueError("stop")
    assert gc.get_threshold() == before

import pytest

from toolpath.job.model import Side
from toolpath.plan.levels import clear_height, level_heights


@pytest.mark.parametrize(
    ("depth", "stepdown", "count"),
    [(9.0, 3.0, 3), (9.1, 3.0, 4), (0.3, 3.0, 1), (0.9, 0.3, 3), (42.5, 3.0, 15)],
)
def test_levels_are_equal_no_deeper_than_the_stepdown_and_end_exactly(depth, stepdown, count):
    heights = level_heights(depth, stepdown)
    steps = [above - below for above, below in zip((0.0, *heights), heights, strict=False)]
    assert len(heights) == count
    assert heights[-1] == -depth
    assert max(steps) == pytest.approx(min(steps))
    assert max(steps) <= stepdown + 1e-6


def test_rapids_cross_over_the_clamps_of_their_face_only(shop):
    cut = shop.drill((0.0, 0.0))
    job = shop.job(cut, clamps=[shop.clamp(18.0), shop.clamp(30.0, Side.BACK)])
    # Height, clearance 1, path error 0.02 and 1 mm more.
    assert clear_height(job, Side.FRONT) == pytest.approx(18 + 1.0 + 0.02 + 1.0)
    assert clear_height(job, Side.BACK) == pytest.approx(30 + 1.0 + 0.02 + 1.0)
    assert clear_height(shop.job(cut), Side.FRONT) == 6.0
    assert clear_height(shop.job(cut, clamps=[shop.clamp(2.0)]), Side.FRONT) == 6.0

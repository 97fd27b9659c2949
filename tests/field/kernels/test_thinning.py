import itertools

import numpy as np

from toolpath.field import kernels


def test_thinned_paths_keep_over_their_bounds():
    rng = np.random.default_rng(6)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 400))
    points = np.column_stack([5 * np.cos(angle), 5 * np.sin(angle), np.sin(3 * angle)])
    bound = np.maximum(points[:-1, 2], points[1:, 2]) - 0.06
    points[:, 2] += 0.03
    keep = np.zeros(400, dtype=np.bool_)
    kernels.thin_over(points, bound, 0.02, 0.05, keep)
    assert keep[0]
    assert keep[-1]
    assert keep.sum() < 120
    kept = np.flatnonzero(keep)
    for first, last in itertools.pairwise(kept):
        if last == first + 1:
            continue
        a, b = points[first], points[last]
        share = (points[first : last + 1, :2] - a[:2]) @ (b - a)[:2] / np.sum((b - a)[:2] ** 2)
        on = a + share[:, None] * (b - a)
        aside = np.hypot(*(on - points[first : last + 1])[:, :2].T)
        assert aside.max() <= 0.02 + 1e-9
        assert (np.minimum(on[:-1, 2], on[1:, 2]) >= bound[first:last] - 1e-9).all()
        assert (on[:, 2] <= points[first : last + 1, 2] + 0.05 + 1e-9).all()

"""The loop over arcs through gates beside its slow twin, in whole arrays."""

import numpy as np
import pytest

from toolpath.field import kernels
from toolpath.motion.arcfit import moves_along
from toolpath.motion.moves import MoveTable

EVERY = 4
MOST_BULGE, MOST_RADIUS, BETWEEN, SLACK, MUCH = LIMITS = (1.0 + 1e-7, 10_000.0, 0.0003, 1e-6, 1e9)


def through(gates, rows, p, q):
    """Bulge of the arc from p to q and its mean distance from the spots; None where none passes."""
    within = gates[rows[0] : rows[1]]
    weighty = within[-rows[0] % EVERY :: EVERY, :2]
    one, other = bulges(p, q, within[:, 2:4]), bulges(p, q, within[:, 4:6])
    low = np.minimum(one, other).max(initial=-MOST_BULGE)
    high = np.maximum(one, other).min(initial=MOST_BULGE)
    if low > high:
        return None
    bulge = np.clip(bulges(p, q, weighty).mean() if len(weighty) else 0.0, low, high)
    chord = np.hypot(*(q - p))
    width, turned = chord * (1.0 + bulge * bulge), 4.0 * abs(bulge)
    if not (chord > SLACK and width <= MOST_RADIUS * turned):
        return None
    if within[:, 8].max(initial=0.0) ** 2 * turned > 8.0 * BETWEEN * width:
        return None
    aside = offsets(p, q, bulge, within[:, :2])
    if (aside < -within[:, 6] - SLACK).any() or (aside > within[:, 7] + SLACK).any():
        return None
    off = np.abs(aside[-rows[0] % EVERY :: EVERY])
    return bulge, off.mean() if len(off) else 0.0


def bulges(p, q, x):
    to, on = x - p, q - x
    cross = to[:, 0] * on[:, 1] - to[:, 1] * on[:, 0]
    dot = (to * on).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = cross / (np.hypot(cross, dot) + dot)
    return np.clip(np.where(np.isnan(found), 0.0, found), -MUCH, MUCH)


def offsets(p, q, bulge, spots):
    """By how much the arc lies to the left of spots."""
    chord = q - p
    length = np.hypot(*chord)
    ahead = chord / length
    offset = spots - (p + q) / 2.0
    up, along = offset @ np.array([-ahead[1], ahead[0]]), offset @ ahead
    if bulge == 0.0:
        return -up
    aside = length * (1.0 - bulge * bulge) / (4.0 * bulge)
    radius = length * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    return np.sign(bulge) * (np.hypot(along, up - aside) - radius)


def on_a_wave(rng, n, reach, step):
    """Gates along a wave with a little noise; some are narrow."""
    x = np.arange(n) * step
    spots = np.column_stack([x, 3.0 * np.sin(x / 7.0) + rng.normal(0.0, reach / 4.0, n)])
    ahead = np.gradient(spots, axis=0)
    ahead /= np.hypot(*ahead.T)[:, None]
    across = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    right, left = rng.uniform(0.3, 1.0, (2, n, 1)) * reach
    apart = np.append(np.hypot(*np.diff(spots, axis=0).T), 0.0)[:, None]
    return np.concatenate(
        [spots, spots - right * across, spots + left * across, right, left, apart], 1
    )


@pytest.mark.parametrize("seed", range(40))
def test_it_finds_what_the_slow_twin_finds(seed):
    rng = np.random.default_rng(seed)
    gates = on_a_wave(rng, 60, 0.02, 0.08)
    passed = 0
    for first, last in rng.integers(0, 60, (60, 2)):
        rows = (min(first, last) + 1, max(first, last), EVERY)
        starts = gates[rows[0] - 1, :2] + rng.uniform(-0.01, 0.01, (3, 2))
        ends = gates[rows[1], :2] + rng.uniform(-0.01, 0.01, (2, 2))
        found = np.empty((3, 2, 2))
        kernels.arcs_through(gates, rows, starts, ends, LIMITS, found)
        for i, p in enumerate(starts):
            for j, q in enumerate(ends):
                wanted = through(gates, rows, p, q)
                assert np.isnan(found[i, j]).all() == (wanted is None)
                if wanted is not None:
                    passed += 1
                    assert found[i, j] == pytest.approx(wanted, rel=1e-9, abs=1e-12)
    assert passed > 20


@pytest.mark.parametrize(
    ("p", "q", "x", "bulge"),
    [
        ((0, 0), (2, 0), (1, 0), 0.0),  # on the chord
        ((0, 0), (2, 0), (1, -1), 1.0),  # a half turn, counter-clockwise
        ((0, 0), (2, 0), (1, 1), -1.0),
        ((0, 0), (2, 0), (3, 0), 0.0),  # behind the end: no arc, and no division by zero
    ],
)
def test_places_on_a_line_and_on_half_a_circle(p, q, x, bulge):
    """Thales: an angle in a half circle is right."""
    gates = np.array([[*x, *x, *x, 1e-9, 1e-9, 0.0]], dtype=float)
    found = np.empty((1, 1, 2))
    ends = np.array([p], dtype=float), np.array([q], dtype=float)
    limits = (MOST_BULGE, 1e9, 1.0, SLACK, MUCH)
    kernels.arcs_through(gates, (0, 1, 1), *ends, limits, found)
    if x[0] > q[0]:
        assert np.isnan(found).all()
    elif bulge == 0.0:
        assert np.isnan(found).all()  # a straight: no radius is small enough
    else:
        assert found[0, 0] == pytest.approx((bulge, 0.0), abs=1e-9)


@pytest.mark.parametrize("bulge", [-0.9, -0.2, 0.0, 0.05, 0.7, 1.0])
def test_the_twin_s_offsets_are_distances_with_the_side_as_their_sign(bulge):
    rng = np.random.default_rng(3)
    start, end = np.array([1.0, 2.0]), np.array([4.0, 6.0])
    table = MoveTable.of(moves_along(np.array([[1, 2, bulge], [4, 6, 0]]), 0, 0, 1, closed=False))
    share = rng.uniform(0.05, 0.95, 40)
    on = table.at(np.zeros(40, dtype=int), share)[:, :2]
    ahead = table.at(np.zeros(40, dtype=int), share + 1e-6)[:, :2] - on
    left = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1) / np.hypot(*ahead.T)[:, None]
    aside = rng.uniform(-0.5, 0.5, 40)
    found = offsets(start, end, bulge, on - aside[:, None] * left)
    assert found == pytest.approx(aside, abs=1e-5)

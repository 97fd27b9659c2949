"""The kernels of dilation beside a slow twin: whole arrays, one entry of the table at a time."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from toolpath.field.dilate import dilate
from toolpath.field.grid import NOTHING
from toolpath.field.kernels.flat import TILE, WORKERS


def slow_dilate(z, drop):
    """Each entry in turn; float32 all the way, so that equal is equal to the last bit."""
    up, across = drop.shape[0] // 2, drop.shape[1] // 2
    around = np.pad(z, ((up, up), (across, across)), constant_values=NOTHING)
    out = np.full_like(z, NOTHING)
    for i, j in zip(*np.nonzero(np.isfinite(drop)), strict=True):
        np.maximum(out, around[i:, j:][: z.shape[0], : z.shape[1]] - drop[i, j], out=out)
    return out


def table(kind, up, across, rng):
    r = np.hypot(np.arange(-up, up + 1)[:, None], np.arange(-across, across + 1))
    radius = rng.uniform(0, max(up, across) + 1)
    shapes = {
        "flat": np.where(r <= radius, 0.7, np.inf),
        "rim": np.where(r <= radius, -0.5, np.where(r < 1.4 * radius, (r - radius) ** 2, np.inf)),
        "ball": r**2 / (radius + 1),
        "any": np.where(rng.random(r.shape) < 0.3, np.inf, rng.uniform(0, 5, r.shape)),
        "steps": np.round(rng.uniform(0, 3, r.shape)),
        "aside": np.where((r <= radius) & (np.arange(-across, across + 1) > across / 2), 1, np.inf),
        "empty": np.full(r.shape, np.inf),
    }
    return shapes[kind].astype(np.float32)


KINDS = ("flat", "rim", "ball", "any", "steps", "aside", "empty")


@settings(max_examples=60, deadline=None)
@given(
    st.integers(0, 2**31),
    st.sampled_from(KINDS),
    st.tuples(st.integers(1, 70), st.integers(1, 300)),
    st.tuples(st.integers(0, 20), st.integers(0, 40)),
    st.sampled_from([0.0, 0.5, 0.97, 1.0]),
)
def test_dilation_beside_its_slow_twin(seed, kind, shape, size, empty):
    rng = np.random.default_rng(seed)
    z = rng.uniform(-5, 5, shape).astype(np.float32)
    z[rng.random(shape) < empty] = NOTHING
    drop = table(kind, *size, rng)
    slow = slow_dilate(z, drop)
    assert np.array_equal(dilate(z, drop), slow)
    over = dilate(z, drop, 1.0)
    assert np.array_equal(over[slow > 1.0], slow[slow > 1.0])
    assert (over <= slow).all()


@pytest.mark.parametrize("kind", ["flat", "rim", "ball"])
def test_more_tiles_than_workers(kind):
    rng = np.random.default_rng(2)
    z = np.full((60, (WORKERS + 1) * TILE + 7), NOTHING, dtype=np.float32)
    z[rng.random(z.shape) < 0.01] = 3.0
    z[-20:, : TILE + 10] = rng.uniform(0, 9, (20, TILE + 10))
    drop = table(kind, 12, 12, rng)
    assert np.array_equal(dilate(z, drop), slow_dilate(z, drop))

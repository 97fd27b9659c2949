import math

import numpy as np

from toolpath.check.paths import Spans, boxes, forward, places, split
from toolpath.motion.moves import Kind, Move, MoveTable

TABLE = MoveTable.of(
    [
        Move(kind=Kind.RAPID, start=(0, 0, 5), end=(10, -4, 1)),
        Move(kind=Kind.LINE, start=(1, 2, 3), end=(-4, 8, 0), feed=1.0),
        Move(
            kind=Kind.ARC, start=(5, 0, 0), end=(-3, 4, -2), centre=(0, 0), sweep=2.2143, feed=1.0
        ),
        Move(
            kind=Kind.ARC, start=(5, 0, 0), end=(5, 0, -2), centre=(0, 0), sweep=-math.tau, feed=1.0
        ),
    ]
)


def random_spans(rng, count):
    low = rng.uniform(0, 0.8, (count, 3))
    high = low + rng.uniform(0, 1, (count, 3)) * (1 - low)
    return Spans(row=rng.integers(0, len(TABLE), count), low=low, high=high)


def inside(spans, rng):
    """One tip of each span, straight from the meaning of its parameters."""
    u = spans.low + (spans.high - spans.low) * rng.uniform(0, 1, spans.low.shape)
    row = spans.row
    box = TABLE.kind[row] == Kind.RAPID
    anywhere = TABLE.start[row] + (TABLE.end[row] - TABLE.start[row]) * u
    return np.where(box[:, None], anywhere, TABLE.at(row, u[:, 0]))


def test_no_tip_leaves_what_a_span_promises():
    rng = np.random.default_rng(2)
    for _ in range(20):
        spans = random_spans(rng, 400)
        at, tips = places(TABLE, spans), inside(spans, rng)
        off = tips - at.middle
        assert (np.linalg.norm(off, axis=1) <= at.radius + 1e-9).all()
        way = rng.normal(size=(400, 1, 3))
        way /= np.linalg.norm(way, axis=2, keepdims=True)
        assert (np.einsum("kbx,kx->kb", way, off) <= at.sway(way) + 1e-9).all()
        low, high = boxes(TABLE)
        assert (tips >= low[spans.row] - 1e-9).all()
        assert (tips <= high[spans.row] + 1e-9).all()


def test_halves_make_the_whole():
    rng = np.random.default_rng(6)
    spans = random_spans(rng, 300)
    one, two = split(TABLE, spans)
    halved = np.where(TABLE.kind[spans.row] == Kind.RAPID, -1, 0)
    for part in (one, two):
        assert (part.low >= spans.low).all()
        assert (part.high <= spans.high).all()
        width, before = part.high - part.low, spans.high - spans.low
        ratio = np.prod(width, axis=1) / np.prod(before, axis=1)
        np.testing.assert_allclose(ratio, 0.5)
        along = halved == 0
        np.testing.assert_allclose(width[along, 0], before[along, 0] / 2)


def test_the_far_end_is_a_tip_of_the_span():
    rng = np.random.default_rng(7)
    spans = random_spans(rng, 300)
    at = places(TABLE, spans)
    way = rng.normal(size=(300, 3))
    ends = forward(TABLE, spans, at, way)
    assert (np.linalg.norm(ends - at.middle, axis=1) <= at.radius + 1e-9).all()
    straight = TABLE.kind[spans.row] != Kind.ARC
    for _ in range(5):
        other = inside(spans, rng)
        further = np.einsum("kx,kx->k", way, other - ends)[straight]
        assert (further <= 1e-9).all()

"""Feeds of reliefs as the text has them: full where little is taken, less in slots, and never
faster down than the plunge feed."""

import re

import numpy as np
import pytest
from relief_replay import WORDS, cutter_text, planned

FEED, PLUNGE = 1200.0, 300.0


def straights(text):
    """(n, 8) straight feed moves: start, end, feed and the line; arcs only move the place on."""
    at, mode, feed, found = [np.nan] * 3, 0, np.nan, []
    for number, line in enumerate(text.splitlines()):
        words = WORDS.findall(re.sub(r"\(.*?\)", "", line.upper()))
        values = {letter: float(value) for letter, value in words if letter != "G"}
        feed = values.get("F", feed)
        for letter, value in words:
            if letter == "G" and float(value) in (0, 1, 2, 3):
                mode = int(float(value))
        if not {"X", "Y", "Z"} & set(values):
            continue
        end = [values.get(axis, old) for axis, old in zip("XYZ", at, strict=True)]
        if mode == 1:
            found.append([*at, *end, feed, number])
        at = end
    rows = np.array(found)
    return rows[np.isfinite(rows).all(axis=1)]


def steep(x, y):
    return 5 + 2.0 * np.tanh(x) + 0.3 * np.sin(y / 2)


@pytest.fixture(scope="module")
def programs(tmp_path_factory):
    cutters = cutter_text("flat 6", "flat", 6, 2.0) + cutter_text("ball 3", "ball", 3, 1.5)
    made, texts = planned(
        tmp_path_factory.mktemp("relief"), steep, size=20, cutters=cutters,
        cut='cutter = ["flat 6", "ball 3"]\nfinish = 0.3\n',
    )  # fmt: skip
    assert made.clear
    return [straights(text) for _, text in texts]


def test_no_move_goes_down_faster_than_the_plunge_feed(programs):
    for moves in programs:
        step = moves[:, 3:6] - moves[:, :3]
        long = np.linalg.norm(step, axis=1)
        down = moves[:, 6] * np.maximum(-step[:, 2], 0.0) / np.maximum(long, 1e-9)
        # four decimals of Z and X over the shortest moves written
        assert (down <= PLUNGE * 1.02 + 1e-3 / np.maximum(long, 1e-3) * PLUNGE).all()


def test_passes_over_gentle_ground_run_at_the_full_feed(programs):
    moves = programs[1]
    step = moves[:, 3:6] - moves[:, :3]
    wide = np.hypot(*step[:, :2].T)
    gentle = (wide > 0.3) & (np.abs(step[:, 2]) < 0.1 * wide) & (moves[:, 2] < -1.0)
    length = wide[gentle]
    full = moves[gentle, 6] >= 0.9 * FEED  # the rest are roughing slots
    assert float(length[full].sum()) > 0.85 * float(length.sum())
    assert moves[:, 6].max() <= FEED + 1e-6  # a ball's chip is not raised


def test_roughing_is_slowed_where_it_is_a_slot(programs):
    """To 65, 74, 82 or 91 % of the feed in a slot, by its depth, or as slow as still cuts
    (docs/feeds.md): here 800 mm/min, a chip of 0.025 mm with two flutes at 16,000 a minute. Most
    slots are level."""
    shares = np.array([800.0 / FEED, 0.7375, 0.825, 0.9125])
    for moves in programs:
        long = np.linalg.norm(moves[:, 3:6] - moves[:, :3], axis=1)
        slot = (np.abs(moves[:, 6, None] - shares * FEED) < 0.5).any(axis=1)
        assert 3.0 < long[slot].sum() < 0.2 * long.sum()
        level = np.abs(moves[slot, 5] - moves[slot, 2]) <= 0.05 * long[slot] + 2e-4
        assert long[slot][level].sum() > 0.5 * long[slot].sum()

"""The search against dense sampling of the same moves: many pieces, drifts, turns, all kinds."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from toolpath.check.gap import gaps, tool_of
from toolpath.check.judge import Best
from toolpath.check.obstacles import Obstacles, standing_at
from toolpath.drawing.outline import Loop, Region
from toolpath.job.model import (
    Box,
    Cylinder,
    Drift,
    Heights,
    Prism,
    Rule,
    Shape,
    Side,
    Sphere,
)
from toolpath.motion.moves import Kind, Move, MoveTable

STEPS = 400


def random_job(kit, rng):
    solids = [Box(size=(14.0, 6.0, 5.0)), Cylinder(diameter=9.0, height=6.0), Sphere(diameter=8.0)]
    pieces = tuple(
        kit.piece(
            solids[number % 3],
            at=tuple(rng.uniform((30, 35), (110, 85))),
            name=f"piece {number}",
            turn=rng.uniform(-3, 3),
            clearance=rng.uniform(0.5, 2.0),
            drift=Drift(side=rng.uniform(0, 1), rise=rng.uniform(0, 1), turn=rng.uniform(0, 0.5)),
        )
        for number in range(6)
    )
    return kit.job(pieces)


def random_moves(rng, count):
    moves = []
    for line in range(1, count + 1):
        start = rng.uniform((10, 5, -16), (110, 75, 2))
        kind = Kind(int(rng.integers(3)))
        if kind is Kind.ARC:
            radius, angle = rng.uniform(1, 25), rng.uniform(0, 2 * math.pi)
            sweep = rng.uniform(-2, 2) * math.pi
            centre = start[:2] - radius * np.array([math.cos(angle), math.sin(angle)])
            turned = angle + sweep
            end = [*(centre + radius * np.array([math.cos(turned), math.sin(turned)])), start[2]]
            end[2] += rng.uniform(-3, 3)
            more = {"centre": tuple(centre), "sweep": sweep}
        else:
            end, more = start + rng.normal(0, (10, 10, 3)), {}
        moves.append(
            Move(kind=kind, start=tuple(start), end=tuple(end), feed=600.0, line=line, **more)
        )
    return MoveTable.of(moves)


def sample(table, row, rng):
    """Tips (k, 3) a move may have; of a rapid anywhere in the box between its ends."""
    if table.kind[row] == Kind.RAPID:
        share = rng.uniform(0, 1, (STEPS, 3))
        share[:8] = np.stack(np.meshgrid([0, 1], [0, 1], [0, 1]), -1).reshape(-1, 3)
        return table.start[row] + (table.end[row] - table.start[row]) * share
    return table.at(np.full(STEPS, row), np.linspace(0.0, 1.0, STEPS))


@pytest.mark.parametrize("shape", [Shape.FLAT, Shape.BALL, Shape.VEE])
def test_breaches_and_closest_against_samples(kit, shape):
    rng = np.random.default_rng(ord(shape.value[0]))
    words = {"flute_length": 12.0, "reach": 22.0, "shank": 4.0}
    cutter = kit.cutter(shape=shape, angle=1.0, tip_diameter=0.5, **words)
    job = random_job(kit, rng)
    table, tool = random_moves(rng, 120), tool_of(cutter, job.machine.nut)
    obstacles = Obstacles.of(job, Side.FRONT)
    breaches = obstacles.breaches(table, tool, within=0.001)
    keys = zip(breaches.row.tolist(), breaches.owner.tolist(), strict=True)
    named = dict(zip(keys, breaches.gap.tolist(), strict=True))
    group = np.arange(len(table))
    best = obstacles.closest(table, tool, group, Best.of(np.full(len(table), np.inf)))
    parts, counted = obstacles.solids, 0
    for row in range(len(table)):
        tips = sample(table, row, rng)
        found = np.full((len(job.pieces),), np.inf)
        for index in range(len(parts)):
            many = parts.take(np.full(len(tips), index))
            gap = float(gaps(tool, many, tips).gap.min())
            found[parts.owner[index]] = min(found[parts.owner[index]], gap)
        # A sampled place is at most this far from any other of the move (of a box: no such claim).
        apart = table.lengths()[row] / STEPS if table.kind[row] != Kind.RAPID else 4.0
        for owner, gap in enumerate(found):
            need = job.need(job.pieces[owner])
            if gap < need:
                assert (row, owner) in named
                assert named[row, owner] <= gap + 0.001
                counted += 1
            elif gap > need + 0.002 + apart:
                assert (row, owner) not in named
        assert best.gap[row] <= found.min() + 0.001
        assert best.gap[row] >= found.min() - apart - 1e-9
    assert 20 < counted < 0.9 * 120 * 6


def test_what_stands_still_is_judged_too(kit):
    job = kit.job((kit.piece(Sphere(diameter=10.0)),))
    obstacles, tool = Obstacles.of(job, Side.FRONT), tool_of(kit.cutter(), job.machine.nut)
    # The ball's top is at -8: 1.02 above it is the least.
    tips = np.array([[60.0, 40.0, -6.97], [60.0, 40.0, -6.98], [60.0, 40.0, -6.99]])
    assert obstacles.blocked(tips, tool).tolist() == [False, False, True]


def test_what_may_be_cut_is_no_obstacle(kit):
    triangle = Prism(outline=(Region(outer=Loop.of_polygon([(0, 0), (9, 0), (0, 9)])),), height=6.0)
    tops = Heights(
        file=Path("scan.csv"),
        points=np.array([[0.0, 0, 3], [9, 0, 4], [0, 9, 5]]),
        triangles=np.array([[0, 1, 2]]),
    )
    tool = tool_of(kit.cutter(), kit.job().machine.nut)
    tip = np.array([[59.0, 39.0, -12.0]])
    for solid in (triangle, tops, Box(size=(9.0, 9.0, 6.0)), Sphere(diameter=9.0)):
        kept = kit.piece(solid)
        job = kit.job((replace(kept, rule=Rule.MAY_CUT, name="slice"), kept))
        both = Obstacles.of(job, Side.FRONT)
        assert [owner.name for owner in both.owners] == ["slice", "cog"]
        found = both.breaches(standing_at(tip), tool)
        assert found.owner.tolist() == [1]
        alone = Obstacles.of(replace(job, pieces=job.pieces[:1]), Side.FRONT)
        assert not alone.blocked(tip, tool).any()
        assert len(alone.solids) == len(alone.trees) == 0
        best = alone.closest(
            standing_at(tip), tool, np.zeros(1, dtype=int), Best.of(np.array([99.0]))
        )
        assert not best.found[0]


def test_moves_near_pieces_are_those_that_sampling_finds_whatever_is_looked_at_together(
    kit, monkeypatch
):
    rng = np.random.default_rng(17)
    job = random_job(kit, rng)
    obstacles, tool = Obstacles.of(job, Side.FRONT), tool_of(kit.cutter(), job.machine.nut)
    table = random_moves(rng, 90)
    whole = obstacles.nearby(table, tool, 4.0)
    monkeypatch.setattr("toolpath.check.obstacles.ROWS", 7)
    assert obstacles.nearby(table, tool, 4.0).tolist() == whole.tolist()
    assert 0 < len(whole) < len(table)
    tips = np.concatenate([sample(table, row, rng) for row in range(len(table))])
    near = obstacles.breaches(standing_at(tips), tool, within=0.1).row // STEPS
    assert set(near.tolist()) <= set(whole.tolist())  # breaches are nearer than 4 mm
    assert len(near)

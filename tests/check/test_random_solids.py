"""Random programs beside prisms and measured tops against gaps sampled by other means: shapely's
affine maps for prisms, dense points on the skin for measured tops.

A sampled gap is never below the truth, so what it finds too near must be refused.
`python tests/check/test_random_solids.py 300` runs more of them and prints the figures.
"""

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import affinity

from toolpath.check.gap import tool_of
from toolpath.check.obstacles import Obstacles
from toolpath.check.unknown import judged_moves
from toolpath.drawing.outline import Loop, Region
from toolpath.job.model import Drift, Heights, Prism, Shape, Side, TurnOver

CUTTERS = [
    {"shape": Shape.FLAT},
    {"shape": Shape.BALL},
    {"shape": Shape.BULL, "corner_radius": 1.0},
    {"shape": Shape.VEE, "angle": math.radians(60.0), "tip_diameter": 0.4},
    {"shape": Shape.DRILL, "angle": math.radians(118.0)},
    {"shape": Shape.ROUND_OVER, "edge_radius": 2.0},
]
SHORT = {"flute_length": 12.0, "reach": 22.0, "shank": 4.0}
THICK = 40.0


def section(cutter):
    """(k, 2) points r, z of the outer skin of the turning cutter with its nut, 0.02 mm apart."""
    r, z = cutter.diameter / 2.0, []
    angle = np.linspace(0.0, math.pi / 2.0, 200)
    if cutter.shape is Shape.FLAT:
        z = [(r, 0.0)]
    elif cutter.shape in (Shape.BALL, Shape.BULL):
        c = r if cutter.shape is Shape.BALL else cutter.corner_radius
        z = list(zip(r - c + c * np.sin(angle), c - c * np.cos(angle), strict=True))
    elif cutter.shape is Shape.ROUND_OVER:
        c = cutter.edge_radius
        z = list(zip(r - c * np.cos(angle), c * np.sin(angle), strict=True))
    else:
        tip, full = cutter.tip_diameter / 2.0, cutter.point_length
        z = [(tip + s * (r - tip), s * full) for s in np.linspace(0.0, 1.0, 200)]
    low = z[-1][1]
    z += [(r, h) for h in np.arange(low, cutter.flute_length, 0.02)]
    z += [(cutter.shank / 2.0, h) for h in np.arange(cutter.flute_length, cutter.reach, 0.02)]
    z += [(11.0, h) for h in np.arange(cutter.reach, cutter.reach + 18.0, 0.02)]
    return np.array(z)


def line_gaps(skin, r, z0, z1):
    """(k,) gaps of upright lines at distances r (k,) from the axis, between heights above the tip,
    to the turned skin, filled to its axis."""
    found = np.full(len(r), np.inf)
    for at in range(0, len(r), 500):
        part = slice(at, at + 500)
        out = np.maximum(r[part, None] - skin[None, :, 0], 0.0)
        up = np.maximum(np.maximum(z0[part, None] - skin[:, 1], skin[:, 1] - z1[part, None]), 0.0)
        found[part] = np.sqrt(out**2 + up**2).min(axis=1)
    return found


def on_page(side, turn_over, xyz):
    """A point of the blank frame in the program frame of the kit's blank (10, 20, 130, 100)."""
    x, y, z = xyz
    if side is Side.FRONT:
        return x - 10.0, y - 20.0, z
    if turn_over is TurnOver.LEFT_RIGHT:
        return 130.0 - x, y - 20.0, -THICK - z
    return x - 10.0, 100.0 - y, -THICK - z


def random_outline(rng):
    """A star with bulged sides, and its polygon with the arcs as 40 chords."""
    angle = np.sort(rng.uniform(0.0, math.tau, rng.integers(4, 9)))
    if np.diff(angle).min() < 0.2 or np.diff(np.append(angle, angle[0] + math.tau)).max() > 2.6:
        return random_outline(rng)
    radius = rng.uniform(4.0, 11.0, len(angle))
    xy = np.column_stack([np.cos(angle), np.sin(angle)]) * radius[:, None]
    bulge = np.where(rng.random(len(angle)) < 0.5, rng.uniform(-0.15, 0.3, len(angle)), 0.0)
    corners = []
    for start, end, b in zip(xy, np.roll(xy, -1, axis=0), bulge, strict=True):
        corners.append(start)
        if b:
            chord, theta = end - start, 4.0 * math.atan(b)
            centre = (start + end) / 2.0 + np.array([-chord[1], chord[0]]) * (1 - b * b) / (4 * b)
            for turned in theta * np.arange(1, 40) / 40.0:
                c, s = math.cos(turned), math.sin(turned)
                corners.append(centre + np.array([[c, -s], [s, c]]) @ (start - centre))
    polygon = shapely.Polygon(corners)
    if not polygon.is_valid:
        return random_outline(rng)
    return (Region(outer=Loop(points=np.column_stack([xy, bulge]))),), polygon


def random_heights(rng):
    """A rough lump on a 7 x 7 grid, every cell in two triangles."""
    x, y = np.meshgrid(np.linspace(0.0, 14.0, 7), np.linspace(0.0, 12.0, 7))
    z = rng.uniform(2.0, 9.0, x.shape)
    points = np.column_stack([x.ravel(), y.ravel(), z.ravel()])
    first = (np.arange(6)[:, None] * 7 + np.arange(6)).ravel()
    lower = np.stack([first, first + 1, first + 7], axis=1)
    upper = np.stack([first + 1, first + 8, first + 7], axis=1)
    triangles = np.concatenate([lower, upper])
    return Heights(file=Path("scan.csv"), points=points, triangles=triangles)


def random_drift(rng, turn):
    if rng.random() < 0.4:
        return Drift()
    return Drift(side=rng.uniform(0, 1), rise=rng.uniform(0, 1), turn=turn * rng.uniform(0, 0.4))


def random_program(kit, rng, side, turn_over):
    """A program of two moves, and dense tips of its second, blank frame, and a tip's way."""
    first = np.array([70.0, 60.0, -20.0]) + rng.uniform(-1, 1, 3) * [18, 18, 18]
    last = first + rng.uniform(-1, 1, 3) * [14, 14, 6]
    if rng.random() < 0.3:
        last[2] = first[2]
    places = [on_page(side, turn_over, place) for place in (first, last)]
    lines = [f"G0 X{x:.4f} Y{y:.4f} Z{z:.4f}" for x, y, z in places]
    lines[1] = lines[1].replace("G0", "G1")
    tips = first + (last - first) * np.linspace(0.0, 1.0, 200)[:, None]
    return kit.read("F600", *lines), tips


def prism_gap(piece, polygon, cutter, side, tips):
    """Least gap of a prism grown by its drift: many turned copies, then a disc and a rise."""
    turned = affinity.rotate(polygon, piece.turn, origin=(0, 0), use_radians=True)
    x0, y0, x1, y1 = turned.bounds
    at = affinity.translate(turned, piece.at[0] - (x0 + x1) / 2, piece.at[1] - (y0 + y1) / 2)
    low = -piece.depth - piece.solid.height
    if piece.measured_from is Side.BACK:
        low = -THICK + piece.depth
    ends = np.array([low, low + piece.solid.height]) + np.array([-1, 1]) * piece.drift.rise
    points = shapely.points(tips[:, :2])
    r = np.full(len(tips), np.inf)
    for angle in np.linspace(-1, 1, 61 if piece.drift.turn else 1) * piece.drift.turn:
        copy = affinity.rotate(at, angle, origin=piece.at, use_radians=True)
        r = np.minimum(r, shapely.distance(copy, points))
    z = ends - tips[:, 2:] if side is Side.FRONT else (tips[:, 2:] - ends)[:, ::-1]
    r = np.maximum(r - piece.drift.side, 0.0)
    return float(line_gaps(section(cutter), r, z[:, 0], z[:, 1]).min())


def skin_points(piece, rng):
    """Points on the skin and inside measured tops where they nominally lie, blank frame."""
    corners = piece.solid.points[piece.solid.triangles]
    weights = rng.dirichlet((0.6, 0.6, 0.6), (len(corners), 80))
    found = np.einsum("tkc,tcx->tkx", weights, corners).reshape(-1, 3)
    found = np.concatenate([found, piece.solid.points])
    low = found * [1, 1, 0]
    found = np.concatenate([found, low, found * [1, 1, 0.5]])
    c, s = math.cos(piece.turn), math.sin(piece.turn)
    turned = found @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    corner = piece.solid.points @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    middle = (corner.min(axis=0) + corner.max(axis=0))[:2] / 2.0
    foot = -piece.depth - piece.solid.points[:, 2].max()
    if piece.measured_from is Side.BACK:
        foot = -THICK + piece.depth
    return turned + np.array([*(np.array(piece.at) - middle), foot])


def heights_gap(piece, cutter, side, tips, rng):
    """Least sampled gap of measured tops with their drift in some of its extremes."""
    points, best = skin_points(piece, rng), np.inf
    up = 1.0 if side is Side.FRONT else -1.0
    skin = section(cutter)[::5]
    for angle in np.linspace(-1, 1, 9 if piece.drift.turn else 1) * piece.drift.turn:
        c, s = math.cos(angle), math.sin(angle)
        off = (points[:, :2] - piece.at) @ np.array([[c, s], [-s, c]]) + piece.at
        for tip in tips[::10]:
            r = np.maximum(np.hypot(*(off - tip[:2]).T) - piece.drift.side, 0.0)
            z = up * (points[:, 2] - tip[2])
            near = np.argpartition(line_gaps(skin[::8], r, z, z), 200)[:200]
            low, high = z[near] - piece.drift.rise, z[near] + piece.drift.rise
            best = min(best, float(line_gaps(skin, r[near], low, high).min()))
    return best


def one(kit, seed, kind):
    """Whether the check finds a random program too near, the sampled gap, and the need.

    Where the sampled gap is some tenths, the clearance is set so that the need lies just above
    it, or by the samples' own error below it: the hardest that can be asked.
    """
    rng = np.random.default_rng(seed)
    side, turn_over = list(Side)[rng.integers(2)], list(TurnOver)[rng.integers(2)]
    cutter = kit.cutter(**CUTTERS[rng.integers(4)], **(SHORT if rng.random() < 0.5 else {}))
    polygon, solid = None, random_heights(rng)
    if kind == "prism":
        outline, polygon = random_outline(rng)
        solid = Prism(outline=outline, height=rng.uniform(3.0, 12.0))
    piece = kit.piece(
        solid,
        turn=rng.uniform(-3, 3),
        measured_from=[Side.FRONT, Side.BACK][rng.integers(2)],
        depth=rng.uniform(4, 12),
        drift=random_drift(rng, 1.0),
    )
    program, tips = random_program(kit, rng, side, turn_over)
    if kind == "prism":
        gap = prism_gap(piece, polygon, cutter, side, tips)
    else:
        gap = heights_gap(piece, cutter, side, tips, rng)
    need = gap + (0.01 if seed % 2 else -SLACK[kind])
    job = kit.job(
        (replace(piece, clearance=max(need - 0.02, 0.3)),), cutter=cutter, turn_over=turn_over
    )
    moves = judged_moves(program.moves)
    found = Obstacles.of(job, side).breaches(
        moves.take(np.array([len(moves) - 1])), tool_of(cutter, job.machine.nut)
    )
    return bool(len(found.row)), gap, job.need(job.pieces[0])


SLACK = {"prism": 0.12, "heights": 0.4}
"""What the samples may miss, mm: of prisms a move's 200 places (0.05 mm) and the check's 0.05;
of measured tops the tips and the points between those sampled, and the check's 0.1."""


def tally(kit, seeds, kind):
    """How many were refused, were clear, and had a need within the samples' error of the gap."""
    refused = clear = close = 0
    for seed in seeds:
        breach, gap, need = one(kit, seed, kind)
        assert breach or gap >= need - 1e-6, f"a false clear: {kind} {seed} {gap} {need}"
        assert not breach or gap < need + SLACK[kind], f"needless: {kind} {seed} {gap} {need}"
        refused, clear = refused + breach, clear + (not breach)
        close += abs(gap - need) <= SLACK[kind] + 1e-6
    return refused, clear, close


@pytest.mark.parametrize(("kind", "count"), [("prism", 24), ("heights", 6)])
def test_random_programs(kit, kind, count):
    refused, clear, close = tally(kit, range(count), kind)
    assert min(refused, clear, close) >= 2


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent))
    from conftest import Kit

    for name in ("prism", "heights"):
        print(
            name, "refused, clear, close:", tally(Kit, range(1000, 1000 + int(sys.argv[1])), name)
        )

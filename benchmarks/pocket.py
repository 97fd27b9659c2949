"""Named case "pocket-rings": all rings of a pocket, ours against plain buffers of shapely.

200 x 150 mm, wavy outline of 2000 vertices, five islands of 150; first 3 mm from the wall, then
2.5 mm more each, 14 levels. Gouge is how much nearer than asked a loop comes to the wall, at its
vertices and the middles of its edges. Run: python benchmarks/pocket.py
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable

import numpy as np
import shapely
from shapely.geometry import Polygon

from toolpath.plan.rings import offsets, shortfall, wall_offset

FIRST, STEP, LEVELS = 3.0, 2.5, 14
DISTANCES = [FIRST + STEP * level for level in range(LEVELS)]
ROUNDS = 7
PLAIN_QUAD_SEGS = 16


def wavy(x: float, y: float, wide: float, high: float, waves: int, vertices: int) -> Polygon:
    angle = np.linspace(0.0, 2.0 * np.pi, vertices, endpoint=False)
    swell = 1.0 + 0.06 * np.sin(waves * angle) + 0.02 * np.sin(3 * waves * angle)
    return Polygon(
        np.column_stack([x + wide * swell * np.cos(angle), y + high * swell * np.sin(angle)])
    )


def pocket() -> shapely.Geometry:
    outline = wavy(0, 0, 94.0, 70.5, 11, 2000)
    places = [(-45, -20), (45, -20), (-45, 25), (45, 25), (0, 5)]
    islands = [wavy(x, y, 9.0, 7.0, 5, 150) for x, y in places]
    return outline.difference(shapely.union_all(islands))


def ours(area: shapely.Geometry) -> list[shapely.Geometry]:
    return [wall_offset(area, DISTANCES[0], outward=False), *offsets(area, DISTANCES[1:])]


def plain(area: shapely.Geometry) -> list[shapely.Geometry]:
    return [area.buffer(-distance, quad_segs=PLAIN_QUAD_SEGS) for distance in DISTANCES]


def median_ms(make: Callable[[], object], rounds: int) -> float:
    def once() -> float:
        start = time.perf_counter()
        make()
        return (time.perf_counter() - start) * 1000.0

    return statistics.median(once() for _ in range(rounds))


def worst_gouge(area: shapely.Geometry, loops: list[shapely.Geometry]) -> float:
    pairs = zip(loops, DISTANCES, strict=False)
    return max(1000.0 * shortfall(loop, area.boundary, distance) for loop, distance in pairs)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="one run of each, for CI")
    rounds = 1 if parser.parse_args().once else ROUNDS
    area = pocket()
    print(f"pocket-rings: {len(DISTANCES)} levels, median of {rounds}")
    times = []
    for name, make in (("ours", ours), (f"plain, quad_segs {PLAIN_QUAD_SEGS}", plain)):
        loops = make(area)
        times.append(median_ms(lambda make=make: make(area), rounds))
        vertices = int(sum(shapely.get_num_coordinates(loop) for loop in loops))
        gouge = worst_gouge(area, loops)
        print(f"{name:22s} {times[-1]:7.1f} ms  {vertices:6d} vertices  gouge {gouge:7.3f} um")
    print(f"ours / plain: {times[0] / times[1]:.2f}")


if __name__ == "__main__":
    main()

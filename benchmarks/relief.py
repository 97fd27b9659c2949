"""Planning and checking a relief of 120 by 120 mm in cells of 0.1 mm, roughed and finished.

    python benchmarks/relief.py            # all sizes
    python benchmarks/relief.py --once     # the smallest, once

Prints wall and processor seconds of the whole of `plan` without pictures, seconds a million cells,
the largest memory, and how much longer the finishing path is than area over stepover. Run it
alone: the processor seconds are those to compare on a machine that others use too.
"""

import argparse
import os
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "tools"))

from relief_replay import cutter_text, planned, tips

from toolpath.job.cusps import level_step
from toolpath.job.model import Relief
from toolpath.plan.target import Target, dropping_of, relief_area

CUT = 'cutter = ["flat 6", "ball 6"]\nfinish = 0.3\ncusp = 0.02'
CUTTERS = cutter_text("flat 6", "flat", 6) + cutter_text("ball 6", "ball", 6)


def depth(x, y):
    return 4 + 1.5 * np.sin(x / 9) * np.cos(y / 11) + 0.3 * np.sin(x / 4)


def run(size):
    with tempfile.TemporaryDirectory() as folder:
        wall, busy = time.perf_counter(), sum(os.times()[:4])
        made, programs = planned(Path(folder), depth, size=size, cutters=CUTTERS, cut=CUT)
        wall, busy = time.perf_counter() - wall, sum(os.times()[:4]) - busy
    cut = made.scene.job.cuts[0]
    assert isinstance(cut, Relief)
    places = tips(programs[-1][1], 0.2)
    job = made.scene.job
    target = Target.of(job, cut, cut.cutters[-1], relief_area(cut), dropping_of(cut.ground))
    finishing = places[:, 2] < target.found(places[:, :2]).tips + 0.01  # all else is roughing
    length = np.sqrt((np.diff(places, axis=0) ** 2).sum(axis=1))
    path = float(length[(length < 0.5) & finishing[1:] & finishing[:-1]].sum())
    inner = np.linspace(3 - size / 2, size / 2 - 3, 400)  # where the middle of the ball may go
    x, y = np.meshgrid(inner, inner)
    across, along = np.gradient(depth(x, y), inner, inner)
    area = float(np.hypot(1, np.hypot(across, along)).mean()) * (size - 6) ** 2
    ratio = path * level_step(cut.finishers[0], cut.cusp) / area
    cells = (size / 0.1) ** 2 / 1e6
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    print(
        f"{size:5.0f} mm  {cells:5.2f} million cells  {wall:6.1f} s  {busy:6.1f} s busy  "
        f"{busy / cells:5.1f} s a million  {peak:5.0f} MB  path {ratio:4.2f} of area over stepover"
        f"  uncut {made.payload['cuts'][0]['uncut_area_mm2']:.2f} mm2  {made.scene.verdict.value}"
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--once", action="store_true", help="the smallest size only")
    once = parser.parse_args().once
    run(15.0)  # compiles
    for size in (30.0,) if once else (30.0, 60.0, 85.0, 120.0):
        run(size)


if __name__ == "__main__":
    main()

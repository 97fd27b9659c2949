"""Programs of the planner itself for small random jobs: a pocket over a piece."""

import tempfile
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from proof.asked import write
from proof.jobs import _extent, _random_job
from proof.nouns import Cutter, Job
from toolpath.app.plan import plan
from toolpath.errors import KeepclearError

EACH = 16
"""Numbers that share a plan: spoiling is quick, planning is not."""


def planned_program(rng, seed: int) -> tuple[Job, str] | None:
    """A job and one of the programs that the planner wrote for it."""
    job, texts = _plan(seed // (4 * EACH))
    if not texts:
        return None
    return job, texts[int(rng.integers(len(texts)))]


@lru_cache(maxsize=4)
def _plan(number: int) -> tuple[Job, list[str]]:
    rng = np.random.default_rng([4242, number])
    for _ in range(12):
        kind = ["box", "cylinder", "sphere", "prism", "heights", "mesh"][number % 6]
        job = _with_pocket(rng, _random_job(rng, kind))
        with tempfile.TemporaryDirectory() as name:
            path = write(job, Path(name))
            out = Path(name) / "out"
            try:
                plan(path, out, pictures=False)
            except KeepclearError:
                continue
            files = sorted((out / "programs").glob("*.nc"))
            if files:
                return job, [file.read_text() for file in files]
    return job, []


def _with_pocket(rng, job: Job) -> Job:
    cutter = Cutter(
        shape="flat",
        diameter=float(rng.choice([3.0, 6.0])),
        flute_length=20.0,
        shank=6.0,
        reach=float(rng.uniform(21.0, 30.0)),
    )
    cutter = replace(cutter, shank=cutter.diameter)
    low, high = _extent(job, job.pieces[0])
    middle = (low + high)[:2] / 2.0 + rng.uniform(-6.0, 6.0, 2)
    half = rng.uniform(5.0, 11.0, 2)
    x0, y0, x1, y1 = job.box
    rect = [
        max(middle[0] - half[0], x0 + 0.5),
        max(middle[1] - half[1], y0 + 0.5),
        min(middle[0] + half[0], x1 - 0.5),
        min(middle[1] + half[1], y1 - 0.5),
    ]
    depth = float(rng.uniform(2.0, 12.0))
    lengths = ", ".join(repr(float(v) / job.unit) for v in rect)
    blocked = str(rng.choice(["rise", "pillar", "stop"]))
    cut = [
        "[[cut]]",
        'name = "pocket"',
        f'face = "{job.face}"',
        'do = "pocket"',
        f"outline = {{ rect = [{lengths}] }}",
        f"depth = {depth / job.unit!r}",
        'cutter = "tool"',
        f'if_blocked = "{blocked}"',
    ]
    pieces = tuple(replace(piece, clearance=float(rng.uniform(0.2, 1.5))) for piece in job.pieces)
    return replace(job, cutter=cutter, pieces=pieces, cuts="\n".join(cut))

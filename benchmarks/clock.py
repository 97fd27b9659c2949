"""The named case "clock": where the time of the sample clock goes, stage by stage, in one run.

    python benchmarks/clock.py [--once]

Also puts the exact judge beside the least that a grid which acquits first would cost: building
its field of lowest clear tip heights. See docs/decisions/0005-exact-for-every-move.md.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from toolpath.app.load import load_job
from toolpath.app.plan import plan
from toolpath.blank.clear import lowest_clear_tip
from toolpath.check.gap import tool_of
from toolpath.check.grid import checked_obstacles
from toolpath.check.unknown import judged_moves
from toolpath.job.model import Side
from toolpath.rs274.read import read_program_file

JOB = Path(__file__).parents[1] / "samples/clock/clock.toml"


def median(work: Callable[[], object], runs: int) -> float:
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def stages(out: Path) -> dict[str, float]:
    """Seconds of each stage of a plan."""
    spent: dict[str, float] = {}
    state = ("starting", time.perf_counter())

    def progress(step: str) -> None:
        nonlocal state
        now = time.perf_counter()
        word = "drawing" if state[0].endswith(".png") else state[0].split()[0]
        spent[word] = spent.get(word, 0.0) + now - state[1]
        state = (step, now)

    plan(JOB, out, progress=progress)
    progress("end")
    return spent


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="one run of each, for CI")
    runs = 1 if parser.parse_args().once else 5
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder)
        plan(JOB, out)  # compiles and imports what a first run does
        found = [stages(out) for _ in range(runs)]
        print('case "clock": seconds, median')
        for stage in found[0]:
            print(f"  {stage:10} {statistics.median(each[stage] for each in found):7.2f}")
        print(f"  {'whole':10} {statistics.median(sum(e.values()) for e in found):7.2f}")
        print(f"  peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")
        judge_beside_grid(out, runs)


def judge_beside_grid(out: Path, runs: int) -> None:
    job = load_job(JOB)
    program = next((out / "programs").glob("04-*.nc"))
    table = judged_moves(read_program_file(program, unit=job.unit).moves)
    cutter = job.cutters["flat 6"]
    obstacles, tool = checked_obstacles(job, Side.BACK), tool_of(cutter, job.machine.nut)
    exact = median(lambda: obstacles.breaches(table, tool), runs)
    grid = median(lambda: lowest_clear_tip(job, Side.BACK, cutter), runs)
    print(f"  {len(table)} moves judged exactly {exact * 1e3:.1f} ms; the field alone that a grid")
    print(f"  stage would need {grid * 1e3:.0f} ms: {grid / exact:.0f} times as long")


if __name__ == "__main__":
    main()

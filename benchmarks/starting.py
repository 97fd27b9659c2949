"""Named case "starting": whole processes, from the key to the answer, when all is compiled.

    python benchmarks/starting.py [--once] [--beside TREE] [--clock]

Seconds by the clock and of the processor, medians, of Python alone, of the libraries that a check
counts with, of `keepclear --help` and of `keepclear check` of the sample "first pocket"; with
`--clock` of `keepclear plan` of the sample clock alone. `--beside` measures another copy of the
tree in turn with this one.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[1]
SAMPLE = ROOT / "samples/first-pocket/first-pocket.toml"
CLOCK = ROOT / "samples/clock/clock.toml"
RUNS, CLOCK_RUNS = 15, 5


@dataclass(kw_only=True)
class Process:
    """A command line, run from a tree, and what its runs took."""

    name: str
    tree: Path
    words: list[str]
    clock: list[float] = field(default_factory=list)
    processor: list[float] = field(default_factory=list)

    def run(self) -> None:
        before, start = _processor(), time.perf_counter()
        run([sys.executable, *self.words], self.tree)
        self.clock.append(time.perf_counter() - start)
        self.processor.append(_processor() - before)

    def line(self) -> str:
        clock, processor = statistics.median(self.clock), statistics.median(self.processor)
        return f"  {self.name:40s} {clock:8.2f} {processor:10.2f}"


def _processor() -> float:
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


def run(command: list[str], tree: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(tree)}
    quiet = subprocess.DEVNULL
    subprocess.run(command, cwd=tree, env=environment, check=True, stdout=quiet, stderr=quiet)


def processes(tree: Path, program: Path) -> list[Process]:
    keepclear = ["-m", "toolpath"]
    check = [*keepclear, "check", str(SAMPLE), str(program), "--face", "front"]
    words = {
        "python -c pass": ["-c", "pass"],
        "python -c 'import numba, shapely'": ["-c", "import numba, shapely"],
        "keepclear --help": [*keepclear, "--help"],
        "keepclear check, 242 moves": [*check, "--cutter", "flat 6"],
    }
    return [Process(name=name, tree=tree, words=each) for name, each in words.items()]


def whole_plan(tree: Path, folder: Path) -> list[Process]:
    words = ["-m", "toolpath", "plan", str(CLOCK), "-o", str(folder / "clock")]
    return [Process(name="keepclear plan, sample clock", tree=tree, words=words)]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="one run each, for CI")
    parser.add_argument("--beside", type=Path, help="another copy of the tree")
    parser.add_argument("--clock", action="store_true", help="the plan of the sample clock instead")
    options = parser.parse_args()
    trees = [ROOT, *([options.beside.resolve()] if options.beside else [])]
    runs = 1 if options.once else CLOCK_RUNS if options.clock else RUNS
    with tempfile.TemporaryDirectory() as folder:
        plan = ["plan", str(SAMPLE), "-o", folder, "--no-pictures"]
        run([sys.executable, "-m", "toolpath", *plan], ROOT)
        program = Path(folder) / "programs" / "01-front-flat-6.nc"
        every = [
            whole_plan(tree, Path(folder)) if options.clock else processes(tree, program)
            for tree in trees
        ]
        for turn in range(runs + 1):
            for process in (process for pair in zip(*every, strict=True) for process in pair):
                process.run()
                if not turn:  # compiled, and read into the memory of the system
                    process.clock.clear()
                    process.processor.clear()
    print(f"starting: seconds, median of {runs}             clock  processor")
    for tree, found in zip(trees, every, strict=True):
        print(tree)
        for process in found:
            print(process.line())


if __name__ == "__main__":
    main()

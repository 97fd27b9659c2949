"""Keep what a run found worth keeping: few, small inputs that reach what the seeds do not.

    python tests/fuzz/keep.py TARGET [--work DIR] [--most BYTES]

Takes the corpus of `run.py`, smallest inputs first, and copies into `seeds/TARGET` each that takes
a step from line to line of the readers that none before it took. Needs no atheris.
"""

import argparse
import importlib
import os
import sys
import tempfile
from pathlib import Path
from types import FrameType
from typing import Any

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]

LARGEST, SLOWEST = 4000, 0.3  # bytes, seconds
_Step = tuple[str, int, int]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("target")
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "keepclear-fuzz")
    parser.add_argument("--most", type=int, default=60_000, help="bytes to add")
    asked = parser.parse_args()
    os.environ["NUMBA_DISABLE_JIT"] = "1"
    target = importlib.import_module(f"fuzz.{asked.target}").TARGET
    from fuzz.target import run, unpacked

    seeds = HERE / "seeds" / asked.target
    corpus = asked.work / asked.target / "corpus"
    found = sorted(corpus.iterdir(), key=lambda path: path.stat().st_size)
    with tempfile.TemporaryDirectory() as name:
        target.beside(Path(name))
        reached: set[_Step] = set()
        for seed in sorted(seeds.iterdir()):
            reached |= steps_of(target, seed.read_bytes(), seed.suffix, Path(name))
        before, added = len(reached), 0
        for path in found:
            content, ending = unpacked(path.read_bytes(), target)
            if len(content) > LARGEST or added + len(content) > asked.most:
                continue
            outcome = run(target, content, ending, Path(name))
            if outcome.fault or outcome.seconds > SLOWEST:
                continue
            steps = steps_of(target, content, ending, Path(name))
            if steps - reached:
                reached |= steps
                added += len(content)
                (seeds / f"found-{path.name[:8]}{ending}").write_bytes(content)
    print(f"{asked.target}: {before} steps from the seeds, {len(reached)} now; {added} bytes more")
    return 0


def steps_of(target: Any, content: bytes, ending: str, folder: Path) -> set[_Step]:
    """The steps from line to line within a function of ours that reading an input takes."""
    from fuzz.target import run

    steps: set[_Step] = set()

    def start(frame: FrameType, event: str, value: Any) -> Any:
        file = frame.f_code.co_filename
        if "/toolpath/" not in file:
            return None
        last = 0

        def line(frame: FrameType, event: str, value: Any) -> Any:
            nonlocal last
            steps.add((file, last, frame.f_lineno))
            last = frame.f_lineno
            return line

        return line

    sys.settrace(start)
    try:
        run(target, content, ending, folder)
    finally:
        sys.settrace(None)
    return steps


if __name__ == "__main__":
    sys.exit(main())

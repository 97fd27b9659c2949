"""Fuzz one reader for a while, guided by what of the code each input reaches.

    python tests/fuzz/run.py TARGET --seconds N [--compiled] [--work DIR]
    python tests/fuzz/run.py TARGET --file INPUT

Prints executions, coverage, endings by kind, the slowest input and the peak of memory; exits 1 if
anything ended as it must not. What was found lies in DIR/TARGET/found, what is worth keeping in
DIR/TARGET/corpus, from which the next run goes on. Needs atheris; see DEVELOPERS.md.
"""

import argparse
import importlib
import json
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
sys.path[:0] = [str(HERE.parent), str(ROOT)]

TARGETS = ("interpreter", "jobs", "dxf", "svg", "meshes")
WATCHED = ["toolpath", "tomllib", "ezdxf", "trimesh", "PIL"]
KERNELS = "toolpath.field.kernels"  # the compiler takes none of what is watched
LONGEST_INPUT = 60_000
HUNG = 120  # seconds on the clock, for what does not come back from a library at all
_COVERAGE = re.compile(rb"cov: (\d+) ft: (\d+) corp: (\d+)")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("target", choices=TARGETS)
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--compiled", action="store_true", help="with the compiled kernels")
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "keepclear-fuzz")
    parser.add_argument("--file", type=Path, help="read this input once, unwatched")
    parser.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if not asked.compiled:
        os.environ["NUMBA_DISABLE_JIT"] = "1"
    os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1")
    if asked.file:
        return once(asked.target, asked.file)
    if asked.inside:
        return inside(asked.target, asked.work / asked.target, asked.compiled, asked.seconds)
    return outside(asked)


def once(name: str, file: Path) -> int:
    """Read one input and say how it ended."""
    from fuzz.target import run

    target = importlib.import_module(f"fuzz.{name}").TARGET
    with tempfile.TemporaryDirectory() as folder:
        target.beside(Path(folder))
        outcome = run(target, file.read_bytes(), file.suffix, Path(folder))
    print(f"{outcome.kind}, {outcome.seconds:.2f} s, {outcome.memory / 2**20:.0f} MiB")
    print(outcome.details, outcome.fault, sep="\n")
    return 1 if outcome.fault else 0


# ---- the process that watches --------------------------------------------------------------------


def outside(asked: argparse.Namespace) -> int:
    """Start the fuzzer, again if an input ends it, until the time is over; print the sums."""
    folder = asked.work / asked.target
    for part in ("corpus", "found", "tallies"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    for old in (folder / "tallies").iterdir():
        old.unlink()
    fill(asked.target, folder / "corpus")
    start, ended, seen = time.monotonic(), 0, []
    while (left := asked.seconds - (time.monotonic() - start)) > 5:
        words = [sys.executable, __file__, asked.target, "--inside", "--work", str(asked.work)]
        words += ["--seconds", str(int(left)), *(["--compiled"] if asked.compiled else [])]
        log = folder / f"log-{ended}.txt"
        with log.open("wb") as file:
            code = subprocess.run(words, stdout=file, stderr=file, check=False).returncode
        seen += _COVERAGE.findall(log.read_bytes())
        ended += 1
        if code:
            print(f"ended with {code}: see {log}", flush=True)
            if time.monotonic() - start < 5 * ended:
                return 1
    return told(folder, time.monotonic() - start, seen, ended)


def fill(name: str, corpus: Path) -> None:
    """Put the kept seeds into the corpus, as the fuzzer holds them."""
    from fuzz.target import packed

    target = importlib.import_module(f"fuzz.{name}").TARGET
    for seed in sorted((HERE / "seeds" / name).iterdir()):
        (corpus / f"seed-{seed.name}").write_bytes(packed(seed.read_bytes(), seed.suffix, target))


def told(folder: Path, wall: float, seen: list[tuple[bytes, ...]], ended: int) -> int:
    """Print the sums of all tallies."""
    tallies = [json.loads(each.read_text()) for each in (folder / "tallies").iterdir()]
    kinds: Counter[str] = Counter()
    for tally in tallies:
        kinds.update(tally["kinds"])
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(f"{folder.name}: {wall / 60:.1f} min on the clock, {ended} processes")
    print(f"processor: {(used.ru_utime + used.ru_stime) / 60:.1f} min")
    print(f"executions: {sum(kinds.values())}")
    if seen:
        first, last = seen[0], seen[-1]
        print(f"branches: {int(first[0])} from the seeds, {int(last[0])} at the end")
        print(f"features: {int(first[1])}, {int(last[1])}; corpus: {int(last[2])} inputs")
    for kind, count in kinds.most_common():
        print(f"  {count:>9} {kind}")
    slow = max(tallies, key=lambda tally: tally["slowest"][0])["slowest"]
    print(f"slowest: {slow[0]:.2f} s, {slow[1]}")
    most = max(tallies, key=lambda tally: tally["largest"][0])["largest"]
    print(f"most memory for one: {most[0] / 2**20:.0f} MiB, {most[1]}")
    print(f"peak of the process: {max(tally['peak'] for tally in tallies) / 2**20:.0f} MiB")
    found: Counter[str] = Counter()
    for tally in tallies:
        found.update(tally["faults"])
    for fault, count in found.most_common():
        print(f"FOUND {count} times: {fault}")
    return 1 if found else 0


# ---- the process that fuzzes ---------------------------------------------------------------------


@dataclass(slots=True, kw_only=True)
class Tally:
    """What came of the inputs so far."""

    folder: Path
    kinds: Counter[str] = field(default_factory=Counter)
    faults: Counter[str] = field(default_factory=Counter)
    slowest: tuple[float, str] = (0.0, "")
    largest: tuple[int, str] = (0, "")
    written: float = 0.0

    def note(self, outcome, content: bytes, ending: str) -> None:
        self.kinds[outcome.kind] += 1
        if outcome.seconds > self.slowest[0]:
            self.slowest = (outcome.seconds, self.keep("slowest", content, ending))
        if outcome.memory > self.largest[0]:
            self.largest = (outcome.memory, self.keep("largest", content, ending))
        if outcome.fault:
            self.faults[outcome.fault] += 1
            if self.faults[outcome.fault] <= 3:
                name = re.sub(r"\W+", "-", outcome.fault)[:60] + f"-{self.faults[outcome.fault]}"
                path = Path(self.keep(name, content, ending))
                path.with_suffix(".txt").write_text(outcome.details, encoding="utf-8")
        if time.monotonic() - self.written > 3.0:
            self.write()

    def keep(self, name: str, content: bytes, ending: str) -> str:
        path = self.folder / "found" / f"{name}{ending}"
        path.write_bytes(content)
        return str(path)

    def write(self) -> None:
        self.written = time.monotonic()
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
        values = {"kinds": self.kinds, "faults": self.faults, "peak": peak}
        values |= {"slowest": self.slowest, "largest": self.largest}
        path = self.folder / "tallies" / f"{os.getpid()}.json"
        path.write_text(json.dumps(values), encoding="utf-8")


def inside(name: str, folder: Path, compiled: bool, seconds: int) -> int:
    """Fuzz until the time is over."""
    import atheris

    kernels = [f"{KERNELS}.{path.stem}" for path in (ROOT / KERNELS.replace(".", "/")).glob("*.py")]
    without = [KERNELS, *kernels] if compiled else []
    with atheris.instrument_imports(include=WATCHED, exclude=without):
        target = importlib.import_module(f"fuzz.{name}").TARGET
    from fuzz.target import packed, run, unpacked

    tally = Tally(folder=folder)
    work = Path(
        tempfile.mkdtemp(prefix="fuzz-", dir="/dev/shm" if Path("/dev/shm").is_dir() else None)
    )
    target.beside(work)

    def read(data: bytes) -> None:
        content, ending = unpacked(data, target)
        tally.note(run(target, content, ending, work), content, ending)

    def mutate(data: bytes, most: int, seed: int) -> bytes:
        rng = Random(seed)
        if rng.random() < 0.1:
            return atheris.Mutate(data, most)
        content, ending = unpacked(data, target)
        return packed(target.mutate(content, ending, rng), ending, target)[:most]

    flags = [f"-max_total_time={seconds}", f"-timeout={HUNG}", "-rss_limit_mb=8000"]
    flags += [f"-max_len={LONGEST_INPUT}", "-report_slow_units=60", "-print_final_stats=1"]
    flags += [f"-artifact_prefix={folder / 'found'}/ended-", "-len_control=0", "-reload=0"]
    atheris.Setup([sys.argv[0], *flags, str(folder / "corpus")], read, custom_mutator=mutate)
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""Break the check on purpose, in every way that the lists here name, and see the tests catch each.

    .venv/bin/python tests/mutations/run.py [--only NAME ...] [--workers N]

The lists are the TOML files beside this one. Of each mutation they give its name, the `file`, the
`old` text, which stands there once, the `new` text, its `effect` on a maker, and the `tests`, files
or single ones, of which one must fail. It is made in a copy of the tree; the tree itself is never
touched. Exit code 1 where a mutation survives, where one breaks more than a test (the module no
longer loads, or never ends), or where the tests fail unbroken.
"""

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

HERE = Path(__file__).parent
ROOT = HERE.parents[1]

MOST_SECONDS = 180.0
"""A mutation that takes longer than this never ends."""

_FAILED = re.compile(r"^(?:FAILED|ERROR) (.+?)(?: - .*)?$", re.MULTILINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutation:
    name: str
    file: str
    old: str
    new: str
    effect: str
    tests: tuple[str, ...]

    def of(self, text: str) -> str:
        """The broken text of the file. Raises ValueError where the old text is not there once."""
        if text.count(self.old) != 1:
            raise ValueError(f"{self.name}: its old text stands {text.count(self.old)} times")
        return text.replace(self.old, self.new)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    name: str
    caught_by: str
    """The first test that failed; empty for none."""
    seconds: float
    trouble: str = ""
    """Why the tests did not run as tests."""

    def line(self) -> str:
        if self.trouble:
            return f"BROKEN   {self.seconds:6.1f} s  {self.name}: {self.trouble}"
        if not self.caught_by:
            return f"SURVIVED {self.seconds:6.1f} s  {self.name}"
        return f"caught   {self.seconds:6.1f} s  {self.name}: {self.caught_by}"


def mutations() -> list[Mutation]:
    """All of the lists, in their order."""
    rows = [row for path in sorted(HERE.glob("*.toml")) for row in _rows(path)]
    return [Mutation(**{**row, "tests": tuple(row["tests"])}) for row in rows]


def _rows(path: Path) -> list[dict]:
    return tomllib.loads(path.read_text(encoding="utf-8"))["mutation"]


@contextmanager
def tree() -> Iterator[Path]:
    """A copy of what the tests need. Compiled kernels go along; compiled modules do not, as a
    change of a file within a second and of one length would not be seen in them."""
    with tempfile.TemporaryDirectory(prefix="mutation-") as name:
        made = Path(name)
        for part in ("toolpath", "tests"):
            shutil.copytree(ROOT / part, made / part, ignore=shutil.ignore_patterns("*.pyc"))
        shutil.copy2(ROOT / "pyproject.toml", made)
        yield made


def run_tests(made: Path, tests: tuple[str, ...], name: str) -> Outcome:
    """Run test files in a copy of the tree until one test fails."""
    command = [sys.executable, "-m", "pytest", *tests, "-x", "-q", "-p", "no:cacheprovider"]
    command += ["-rfE", "--tb=no"]
    paths = {"PYTHONPATH": str(made), "PYTHONDONTWRITEBYTECODE": "1", "COLUMNS": "200"}
    begun = time.monotonic()
    try:
        done = subprocess.run(
            command,
            cwd=made,
            env={**os.environ, **paths},
            capture_output=True,
            text=True,
            timeout=MOST_SECONDS,
        )
    except subprocess.TimeoutExpired:
        return Outcome(name=name, caught_by="", seconds=MOST_SECONDS, trouble="it never ends")
    seconds = time.monotonic() - begun
    failed = _FAILED.search(done.stdout)
    if done.returncode == 0 or (done.returncode == 1 and failed):
        caught_by = failed[1] if done.returncode and failed else ""
        return Outcome(name=name, caught_by=caught_by, seconds=seconds)
    trouble = (done.stdout + done.stderr).strip().splitlines()[-1:] or ["no word of why"]
    return Outcome(name=name, caught_by="", seconds=seconds, trouble=trouble[0])


def judge(made: Path, mutation: Mutation) -> Outcome:
    """Make a mutation in a copy of the tree, run its tests, and mend it."""
    path = made / mutation.file
    whole = path.read_text(encoding="utf-8")
    path.write_text(mutation.of(whole), encoding="utf-8")
    try:
        return run_tests(made, mutation.tests, mutation.name)
    finally:
        path.write_text(whole, encoding="utf-8")


def judge_all(chosen: list[Mutation], workers: int) -> Iterator[Outcome]:
    """The outcome of each, in order, in as many copies of the tree as there are workers."""
    with ExitStack() as stack, ThreadPoolExecutor(workers) as pool:
        free: SimpleQueue[Path] = SimpleQueue()
        for _ in range(workers):
            free.put(stack.enter_context(tree()))

        def one(mutation: Mutation) -> Outcome:
            made = free.get()
            try:
                return judge(made, mutation)
            finally:
                free.put(made)

        yield from pool.map(one, chosen)


def unbroken(chosen: list[Mutation]) -> Outcome:
    """The tests of all chosen mutations, each file once, on a copy that nothing was done to."""
    files = tuple(sorted({test for mutation in chosen for test in mutation.tests}))
    with tree() as made:
        return run_tests(made, files, "unbroken")


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--only", nargs="+", metavar="NAME", help="these mutations alone")
    parser.add_argument("--workers", type=int, default=1, metavar="N", help="copies at once")
    options = parser.parse_args()
    every = mutations()
    chosen = [each for each in every if not options.only or each.name in options.only]
    for name in sorted(set(options.only or ()) - {each.name for each in every}):
        parser.error(f"there is no mutation {name}")
    before = unbroken(chosen)
    if before.caught_by or before.trouble:
        print(f"the tests fail unbroken: {before.caught_by or before.trouble}")
        return 1
    print(f"the tests pass unbroken, {before.seconds:.1f} s", flush=True)
    left = 0
    for outcome in judge_all(chosen, options.workers):
        print(outcome.line(), flush=True)
        left += not outcome.caught_by
    print(f"{len(chosen) - left} of {len(chosen)} caught")
    return 1 if left else 0


if __name__ == "__main__":
    sys.exit(main())

"""The long run: random programs, and spoiled ones, against the truth; prints counts.

    python tests/proof/run.py --programs 10000 --spoiled 2000 [--seed N] [--workers 2]
    python tests/proof/run.py --reliefs 300

Exits 1 if anything is false. A case is the same for its number: `--seed N --programs 1` runs one
again, `--seed N --spoiled 1` a spoiled one.
"""

import argparse
import multiprocessing
import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1] / "tools"), str(Path(__file__).parents[2])]

from proof.engaged import one_engaged  # noqa: E402
from proof.reliefs import one_relief, relief_table  # noqa: E402
from proof.tally import one, one_spoiled, table  # noqa: E402


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--programs", type=int, default=0, help="random programs")
    parser.add_argument("--spoiled", type=int, default=0, help="spoiled programs")
    parser.add_argument("--reliefs", type=int, default=0, help="random reliefs, planned")
    parser.add_argument("--seed", type=int, default=0, help="number of the first")
    parser.add_argument("--workers", type=int, default=2, help="processes")
    parser.add_argument("--engaged", type=int, default=0, help="pockets of bounded engagement")
    asked = parser.parse_args()
    bad = engaged(range(asked.seed, asked.seed + asked.engaged), asked.workers)
    for title, work, count in (
        ("random programs", one, asked.programs),
        ("spoiled programs", one_spoiled, asked.spoiled),
        ("reliefs", one_relief, asked.reliefs),
    ):
        if count:
            bad += run(title, work, range(asked.seed, asked.seed + count), asked.workers)
    return min(bad, 1)


def engaged(seeds: range, workers: int) -> int:
    """Plan and judge pockets of bounded engagement; how many are false."""
    false = 0
    with multiprocessing.get_context("spawn").Pool(workers, initializer=without_mends) as pool:
        for found in pool.imap_unordered(one_engaged, seeds):
            print(found, flush=True)
            false += bool(found.false)
    if seeds:
        print(f"pockets: {len(seeds)}, false: {false}", flush=True)
    return false


def without_mends() -> None:
    """What would clear is no part of the verdict, and is looked for at length."""
    from toolpath.check import words

    words._MENDS = 0


def run(title: str, work, seeds: range, workers: int) -> int:
    """Judge all, print the tables and every false one; how many are false."""
    start, results = time.time(), []
    pool_of = multiprocessing.get_context("spawn").Pool
    with pool_of(workers, initializer=without_mends, maxtasksperchild=500) as pool:
        for number, result in enumerate(pool.imap_unordered(work, seeds, chunksize=8), start=1):
            if result is not None:
                results.append(result)
                if result.false:
                    print("FALSE", result, flush=True)
            if number % 500 == 0:
                print(f"{number} {title}, {time.time() - start:.0f} s", flush=True)
    print(f"\n{title}: {len(results)}, {time.time() - start:.0f} s\n")
    if work is one_relief:
        print(relief_table(results), "\n")
    else:
        for key in ("kind", "shape"):
            print(table(results, key), "\n")
    false = [result for result in results if result.false]
    print(f"false: {len(false)}; seeds {sorted(result.seed for result in false)}\n", flush=True)
    return len(false)


if __name__ == "__main__":
    sys.exit(main())

"""Named case "plates": 200 ledges at random with plates for them, from emitted text alone.

Both programs are written, read by the second reader of the tests and laid together: how even is
the gap, do the screws line up? Run: python benchmarks/plates.py [--once] [--first N] [--count N]
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path

from toolpath.errors import KeepclearError

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "tools"))

from ledges import Fit, fit_of, job_at_random, with_possible_screws

COUNT = 200


def fitted(seed: int) -> tuple[float, Fit]:
    """The gap of a job and how its plate fits."""
    job = with_possible_screws(job_at_random(seed))
    return job.plates[0].gap, fit_of(job)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="two of them, for CI")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=COUNT)
    given = parser.parse_args()
    fits: list[tuple[float, Fit]] = []
    counts: Counter[str] = Counter()
    for seed in range(given.first, given.first + (2 if given.once else given.count)):
        try:
            gap, fit = fitted(seed)
        except KeepclearError as error:
            counts["refused"] += 1
            print(f"{seed}: refused: {error}")
            continue
        good = fit.good(gap)
        counts["good" if good else "BAD"] += 1
        counts["rounded"] += fit.rounded > 0
        fits.append((gap, fit))
        if not good:
            print(f"{seed}: gap {gap}: {fit}")
    report(fits, counts)


def report(fits: list[tuple[float, Fit]], counts: Counter[str]) -> None:
    print("plates: " + ", ".join(f"{count} {what}" for what, count in counts.items()))
    if not fits:
        return
    least = min(fit.least - gap for gap, fit in fits)
    most = max(max(fit.most, fit.back) - gap for gap, fit in fits)
    print(f"gap less what was asked: {least:+.4f} to {most:+.4f} mm (allowed 0.02 either way)")
    print(f"hole to pilot at most {max(fit.screws for _, fit in fits):.4f} mm (allowed 0.01)")
    print(f"corners sharper than the ledge's by at most {max(f.sharper for _, f in fits):.4f} mm")
    print(f"overlap at most {max(fit.overlap for _, fit in fits):.4f} mm²")


if __name__ == "__main__":
    main()

"""Named case "compiling": what the first run on a machine waits for, and the later ones.

    python benchmarks/compiling.py [--once] [--cpu]

Each kernel is called for the first time in a process with an empty place for what is kept, then in
a second process. Seconds, and the sum.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
CODE = """
import json, sys, time
sys.path[:0] = sys.argv[1:]
from kernel_calls import CALLS
spent = {}
for name, call in CALLS.items():
    start = time.CLOCK()
    call()
    spent[name] = time.CLOCK() - start
print(json.dumps(spent))
"""


def run(folder: str, clock: str) -> dict[str, float]:
    code = CODE.replace("CLOCK", clock)
    command = [sys.executable, "-c", code, str(ROOT), str(ROOT / "tests" / "tools")]
    place = {**os.environ, "NUMBA_CACHE_DIR": folder}
    found = subprocess.run(command, env=place, capture_output=True, text=True, check=True)
    return dict(json.loads(found.stdout))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="the same; it runs once anyhow")
    parser.add_argument("--cpu", action="store_true", help="time of all threads together")
    clock = "process_time" if parser.parse_args().cpu else "perf_counter"
    with tempfile.TemporaryDirectory() as folder:
        first, later = run(folder, clock), run(folder, clock)
    print("compiling: seconds of each first call      first run   later runs")
    for name, spent in first.items():
        print(f"  {name:38s} {spent:10.2f} {later[name]:12.3f}")
    print(f"  {'all':38s} {sum(first.values()):10.2f} {sum(later.values()):12.3f}")


if __name__ == "__main__":
    main()

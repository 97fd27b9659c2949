"""What each command loads: no more than it uses, since loading is most of what a short one takes.

Times are measured by `benchmarks/starting.py`; here it is which libraries are there at the end.
"""

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "samples/first-pocket/first-pocket.toml"
PROGRAM = "G21 G90 G17 G94 G54\nM3 S12000\nG0 Z5\nG0 X60 Y45\nG1 Z-5 F100\nG1 X70\nG0 Z5\nM2\n"
LOADED = """
import json, sys
from toolpath.cli.main import main
try:
    code = main(sys.argv[1:])
except SystemExit as done:
    code = done.code
print(json.dumps([code, sorted(sys.modules)]), file=sys.stderr)
"""
DRAWINGS = {"ezdxf", "fontTools", "lxml", "trimesh", "PIL"}
PICTURES = {"matplotlib", "contourpy"}
NUMBERS = {"numpy", "scipy", "shapely", "numba", "networkx"}
LISTS = {"scipy.ndimage", "scipy.spatial", "scipy.interpolate", "scipy.sparse", "scipy.optimize"}
LISTS |= {"scipy.signal", "scipy.stats"}
WORDS = {"jinja2", "tqdm"}
PLANNER = {"toolpath.plan.programs", "toolpath.plan.plates", "toolpath.plan.pocket"}


def loaded(*words: object) -> tuple[int, set[str]]:
    """The exit code of a command in a process of its own, and the modules loaded at its end."""
    run = [sys.executable, "-c", LOADED, *map(str, words)]
    done = subprocess.run(run, capture_output=True, text=True, cwd=ROOT, timeout=300)
    code, modules = json.loads(done.stderr.splitlines()[-1])
    return code, set(modules)


@pytest.mark.parametrize("words", [["--help"], ["--version"], ["check", "--help"], ["plan"]])
def test_help_loads_no_library(words) -> None:
    code, modules = loaded(*words)
    assert code == (2 if words == ["plan"] else 0)
    assert not modules & (DRAWINGS | PICTURES | NUMBERS | WORDS | PLANNER)


def test_new_loads_no_library(tmp_path) -> None:
    code, modules = loaded("new", tmp_path)
    assert code == 0
    assert not modules & (DRAWINGS | PICTURES | NUMBERS | WORDS | PLANNER)


def test_a_small_check_loads_what_it_counts_with(tmp_path) -> None:
    program = tmp_path / "p.nc"
    program.write_text(PROGRAM)
    code, modules = loaded("check", SAMPLE, program, "--face", "front", "--cutter", "flat 6")
    assert code == 0
    assert not modules & (DRAWINGS | PICTURES | WORDS | PLANNER | LISTS)


def test_a_small_plan_without_pictures_loads_no_reader_of_drawings(tmp_path) -> None:
    code, modules = loaded("plan", SAMPLE, "-o", tmp_path, "--no-pictures")
    assert code == 0
    assert not modules & (DRAWINGS | {"matplotlib"})

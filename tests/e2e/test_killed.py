"""Killed at any step that writes, with an older set in the folder: the whole new set or no program.

The contract's words, "What plan leaves in DIR". See `tests/tools/kill_at.py` for how.
"""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from toolpath.app.plan import plan

ROOT = Path(__file__).parents[2]
CUTS = """
[[cut]]
name = "a"
face = "front"
do = "pocket"
outline = {{ rect = [10, 10, 18, 18] }}
depth = {depth}
cutter = "flat 6"
[[cut]]
name = "b"
face = "back"
do = "pocket"
outline = {{ rect = [10, 50, 18, 58] }}
depth = {depth}
cutter = "flat 6"
"""


@pytest.fixture
def places(tmp_path: Path) -> list[Path]:
    """A job of two programs, an output folder, and the set of the same job as it was before."""
    text = (ROOT / "samples/first-pocket/first-pocket.toml").read_text().split("[[cut]]")[0]
    text = text.replace("[check]", "[check]\ncell = 2")
    for name, depth in (("older", 3), ("job", 2)):
        (tmp_path / f"{name}.toml").write_text(text + CUTS.format(depth=depth))
    plan(tmp_path / "older.toml", tmp_path / "old", pictures=False)
    return [tmp_path / "job.toml", tmp_path / "out", tmp_path / "old"]


def survey(how: str, places: list[Path]) -> dict:
    words = [sys.executable, str(ROOT / "tests/tools/kill_at.py"), how, *map(str, places)]
    environment = dict(os.environ, PYTHONPATH=str(ROOT))
    done = subprocess.run(words, capture_output=True, text=True, env=environment, timeout=300)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""  # nothing that is killed says a word, its copies neither
    return json.loads(done.stdout)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that copies processes")
def test_killed_at_every_step_that_writes(places) -> None:
    found = survey("hook", places)
    assert found["wrong"] == []
    assert found["states"]["new set"] >= 1 and found["states"]["nothing"] > 10
    assert found["states"]["old set, untouched"] == 1  # killed before its very first step


@pytest.mark.skipif(shutil.which("strace") is None, reason="needs strace")
def test_killed_at_every_system_call_that_writes(places) -> None:
    found = survey("strace", places)
    assert found["wrong"] == []
    assert found["states"]["new set"] >= 1 and found["states"]["nothing"] > 10

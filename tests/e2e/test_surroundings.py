"""Machines as they are: no home, nowhere to keep anything, another letter set."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SAMPLE = (ROOT / "samples/first-pocket/first-pocket.toml").read_text()
COARSE = SAMPLE.replace("[check]", "[check]\ncell = 2")
NO_HOME = {
    "nothing set": {},
    "a home that is no folder": {"HOME": "/dev/null", "NUMBA_CACHE_DIR": "/dev/null/kernels"},
}
LETTERS = {
    "C": {"LC_ALL": "C"},
    "C and no UTF-8 of its own": {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    "ascii": {"PYTHONIOENCODING": "ascii"},
    "latin": {"PYTHONIOENCODING": "latin-1"},
}


def ran(*words: object, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """The command with no more than these variables set."""
    command = [sys.executable, "-m", "toolpath", *map(str, words)]
    given = {"PATH": os.environ["PATH"], "PYTHONPATH": str(ROOT), **environment}
    return subprocess.run(command, capture_output=True, cwd=ROOT, env=given, timeout=300)


@pytest.mark.parametrize("environment", NO_HOME.values(), ids=NO_HOME)
def test_no_home(tmp_path, environment) -> None:
    """Pictures and a drawing: the libraries for both keep letters in a folder of the home."""
    job, temporary = tmp_path / "job.toml", tmp_path / "tmp"
    temporary.mkdir()
    shutil.copy(ROOT / "samples/clock/clock.dxf", tmp_path)
    cog = '{ kind = "prism", outline = { dxf = "clock.dxf", layer = "COG" }, height = 4 }'
    sphere = '{ kind = "sphere", diameter = 14 }'
    assert sphere in COARSE
    job.write_text(COARSE.replace(sphere, cog))
    out = tmp_path / "out"
    done = ran("plan", job, "-o", out, TMPDIR=str(temporary), **environment)
    assert (done.returncode, done.stderr) == (0, b"")
    assert (out / "programs").is_dir() and list((out / "pictures").iterdir())
    assert list(temporary.iterdir()) == []


@pytest.mark.parametrize("environment", LETTERS.values(), ids=LETTERS)
def test_letters_that_the_terminal_does_not_know(tmp_path, environment) -> None:
    folder = tmp_path / "Wände 日本 Ж"
    folder.mkdir()
    job = folder / "jöb Ж.toml"
    job.write_text(COARSE.replace('"pebble"', '"Kiesel 田"'), encoding="utf-8")
    done = ran("plan", job, "-o", folder / "aus ö", "--no-pictures", **environment)
    assert (done.returncode, done.stderr) == (0, b"") and b"Kiesel" in done.stdout
    written = (folder / "aus ö" / "plan.json").read_text(encoding="utf-8")
    assert json.loads(written)["cuts"][0]["closest"]["piece"] == "Kiesel 田"
    program = next((folder / "aus ö" / "programs").iterdir())
    words = ("check", job, program, "--face", "front", "--cutter", "flat 7")
    wrong = ran(*words, **environment)
    assert wrong.returncode == 2 and b"flat 7" in wrong.stderr and b"Trace" not in wrong.stderr

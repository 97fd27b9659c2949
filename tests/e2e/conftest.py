"""The command in a process of its own."""

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@dataclass
class Ran:
    code: int
    out: str
    err: str

    @property
    def json(self) -> dict:
        return json.loads(self.out)


@pytest.fixture(scope="session")
def keepclear() -> Callable[..., Ran]:
    """Runs the command in a process of its own, as a maker does."""

    def run(*words: object, cwd: Path = ROOT) -> Ran:
        command = [sys.executable, "-m", "toolpath", *map(str, words)]
        done = subprocess.run(command, capture_output=True, text=True, cwd=cwd, timeout=300)
        assert "Traceback" not in done.stderr
        return Ran(done.returncode, done.stdout, done.stderr)

    return run

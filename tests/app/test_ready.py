"""A job read by a copy of the process: the same as one read here, its faults too."""

import subprocess
import sys

import pytest

from toolpath.app import ready
from toolpath.app.load import load_job
from toolpath.app.ready import job_beside
from toolpath.errors import FaultsError

TRAY = ("tray", [10, 10, 30, 30])
LOADED = ["toolpath.app.make"]

FRESH = """
import os, sys
from pathlib import Path
from toolpath.app.ready import job_beside
from toolpath.errors import FaultsError

copied, fork = [], os.fork
def counted():
    copied.append(1)
    return fork()
os.fork = counted
try:
    found = repr(job_beside(Path(sys.argv[1]), ["toolpath.app.make"]))
except FaultsError as error:
    found = str(error)
print(len(copied), "toolpath.app.make" in sys.modules, found)
"""


def in_a_fresh_process(path) -> str:
    command = [sys.executable, "-c", FRESH, str(path)]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip()


def test_a_copy_reads_the_same_job(write_job):
    path = write_job(TRAY)
    assert in_a_fresh_process(path) == f"1 True {load_job(path)!r}"


def test_the_faults_that_a_copy_finds_are_all_told(write_job):
    path = write_job(TRAY)
    path.write_text(path.read_text().replace("depth =", "depht ="))
    with pytest.raises(FaultsError) as here:
        load_job(path)
    assert in_a_fresh_process(path) == f"1 True {here.value}"
    assert "depht" in str(here.value)


def test_what_is_loaded_is_no_reason_for_a_copy(write_job, monkeypatch):
    __import__(LOADED[0])
    monkeypatch.setattr(ready, "side_by_side", None)
    assert job_beside(write_job(TRAY), LOADED).name == load_job(write_job(TRAY)).name


def test_a_job_without_cuts_is_told(write_job):
    with pytest.raises(FaultsError, match="at least one"):
        job_beside(write_job(), LOADED)

"""Cuts of endless work. The figures are worked out by hand from the words of the job."""

import math
import re
from pathlib import Path

import pytest

from toolpath.errors import FaultsError
from toolpath.job.read import read_job

SAMPLE = Path(__file__).parents[2] / "samples/first-pocket/first-pocket.toml"


def test_a_stepdown_too_small_is_a_fault_with_the_figure(tmp_path) -> None:
    assert faults_of(tmp_path, "stepdown = 2", "stepdown = 1e-9") == [
        'cut[1] "tray": cutter: the stepdown of "flat 6", 1e-09 mm, makes 6e+09 levels of 6 mm; '
        "at most 2000 are planned: take a larger stepdown"
    ]


def test_lanes_too_narrow_are_a_fault_with_the_figure(tmp_path) -> None:
    (told,) = faults_of(tmp_path, "stepover = 0.4", "stepover = 1e-9")
    form = (
        r'cut\[1\] "tray": cutter: "flat 6" would go (\d+) km here, in paths 6e-09 mm apart and '
        r"2 mm deep; at most 50 km are planned: take a thicker cutter, a larger stepover or .*"
    )
    found = re.fullmatch(form, told)
    assert found is not None, told
    area = 80.0 * 50.0 - 6.0**2 * (4.0 - math.pi)  # corners of 6 mm; cut in 3 levels
    assert float(found[1]) == pytest.approx(3.0 * area / 6e-9 / 1e6, rel=1e-4)


def test_pecks_too_small_are_faults(tmp_path) -> None:
    drill = 'do = "drill"\nat = [[30, 30]]\npeck = 1e-6'
    told = faults_of(tmp_path, 'do = "pocket"\noutline = { rect = [20, 20, 100, 70], corner = 6 }',
                     drill)  # fmt: skip
    assert told == [
        'cut[1] "tray": peck: 1e-06 mm makes 6000000 pecks of 6 mm; at most 2000 are planned: '
        "take a larger one"
    ]


@pytest.mark.parametrize(
    ("old", "new"),
    [("stepdown = 2", "stepdown = 0.0031"), ("stepover = 0.4", "stepover = 0.00004")],
)
def test_what_is_long_and_not_endless_is_taken(tmp_path, old, new) -> None:
    assert faults_of(tmp_path, old, new) == []  # 1936 levels; 3 levels of 16.5 km, 49.6 km


def faults_of(tmp_path, old, new) -> list[str]:
    text = SAMPLE.read_text()
    assert text.count(old) == 1
    path = tmp_path / "job.toml"
    path.write_text(text.replace(old, new))
    try:
        read_job(path)
    except FaultsError as error:
        return [f"{fault.where}: {fault.message}" for fault in error.faults]
    return []

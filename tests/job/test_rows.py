from pathlib import Path

import pytest

from toolpath.job.rows import read_steps
from toolpath.job.table import Reading, Table


def steps(**values):
    reading = Reading(file=Path("job.toml"))
    found = read_steps(Table(reading=reading, where="repeat", values=values), "beads")
    return found, [fault.message for fault in reading.faults]


def test_a_row_goes_along_its_step():
    assert steps(count=3, step=[10, 2]) == ([(0, 0), (10, 2), (20, 4)], [])
    assert steps(count=1, step=[0, 0]) == ([(0, 0)], [])


def test_a_grid_goes_along_x_and_then_up():
    found, faults = steps(count=[3, 2], step=[10, 5])
    assert found == [(0, 0), (10, 0), (20, 0), (0, 5), (10, 5), (20, 5)]
    assert faults == []


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"count": 2, "step": [0, 0]}, "is [0, 0]: the beads would lie in one place"),
        ({"count": [2, 3], "step": [10, 0]}, "is 0: the beads would lie in one place"),
        ({"count": [200, 51], "step": [1, 1]}, "makes 10200 beads; at most 10000 are read"),
        ({"count": [2], "step": [1, 1]}, "holds 1 numbers: give [across, up], or one for a row"),
    ],
)
def test_what_cannot_be_laid_out(values, message):
    found, faults = steps(**values)
    assert faults == [message]
    assert len(found) <= 1

from pathlib import Path

import pytest

from toolpath.job.model import Shape
from toolpath.job.table import Reading, Table
from toolpath.job.tools import fits, read_cutters, read_named


@pytest.fixture
def cutters(read, clock):
    return read(clock).cutters


def table(**values: object) -> Table:
    return Table(reading=Reading(file=Path("job.toml")), where="", values=values)


def told(view: Table) -> list[str]:
    return [fault.message for fault in view.reading.faults]


def test_cutters_by_name_or_by_list(cutters) -> None:
    one = read_cutters(table(cutter="flat 6"), cutters, several=False)
    two = read_cutters(table(cutter=["vee 60", "flat 6"]), cutters, several=True)
    assert one == (cutters["flat 6"],)
    assert two == (cutters["vee 60"], cutters["flat 6"])  # 8 mm before 6 mm


def test_a_list_where_none_may_stand(cutters) -> None:
    view = table(cutter=["vee 60", "flat 6"])
    assert read_cutters(view, cutters, several=False) is None
    assert len(told(view)) == 1


def test_names_of_no_cutter(cutters) -> None:
    view = table(hole="flat 66")
    assert read_named(view, "hole", cutters) is None
    assert told(view) == ['no cutter is named "flat 66": did you mean "flat 6"?']
    view = table(hole="flat 6")
    assert read_named(view, "hole", {}) is None
    assert told(view) == ['no cutter is named "flat 6": there is no [[cutter]]']


def test_what_cannot_make_a_cut(cutters) -> None:
    view = table()
    assert fits(view, cutters["flat 6"], (Shape.FLAT,), "a plate") and not told(view)
    assert not fits(view, cutters["drill 5"], (Shape.FLAT,), "a plate")
    assert "cannot cut sideways" in told(view)[0]

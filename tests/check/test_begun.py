from dataclasses import replace

import pytest

from toolpath.check.begun import begun_below
from toolpath.check.replay import judge_program
from toolpath.check.report import Code
from toolpath.check.stock import Stock
from toolpath.job.model import Pocket, Side


@pytest.fixture
def deep(kit):
    """A job with a pocket from 4 to 9 deep at program x 27 to 93, y 37 to 43."""
    tool = kit.cutter()
    cut = Pocket(
        name="channel",
        face=Side.FRONT,
        cutter=tool,
        depth=9.0,
        below=4.0,
        outline=(kit.rectangle(37.0, 57.0, 103.0, 63.0),),
    )
    return kit.job(cutter=tool, cuts=(cut,))


def mend(kit, job, *lines):
    (cutter,) = job.cutters.values()
    program = kit.read("F600", *lines)
    stock = Stock.fresh(job)
    report = judge_program(job, side=Side.FRONT, cutter=cutter, program=program, stock=stock).report
    (found,) = [each for each in report.findings if each.code is Code.RAPID_IN_STOCK]
    return found.mend


def test_a_rapid_down_to_where_a_cut_begins_names_its_key(kit, deep):
    text = mend(kit, deep, "G0 X40 Y40 Z5", "G0 Z-3")
    assert 'say below = 0 on the cut "channel", or less than 4 mm' in text
    assert "lift above the stock first" in text


def test_elsewhere_it_says_to_lift(kit, deep):
    assert mend(kit, deep, "G0 X40 Y70 Z5", "G0 Z-3") == "lift above the stock first, or feed here"


def test_only_cuts_that_begin_below_count(kit, deep):
    (cut,) = deep.cuts
    level = replace(deep, cuts=(replace(cut, below=0.0),))
    assert mend(kit, level, "G0 X40 Y40 Z5", "G0 Z-3") == "lift above the stock first, or feed here"
    assert begun_below(deep, Side.FRONT, cut.cutter) == (cut,)
    assert begun_below(deep, Side.BACK, cut.cutter) == ()
    assert begun_below(deep, Side.FRONT, kit.cutter(name="other")) == ()

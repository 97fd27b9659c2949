"""Cover over pieces: depth of the piece less depth of the skim, a sum that anybody can do."""

from dataclasses import replace

import pytest

from toolpath.check.replay import judge_program
from toolpath.check.report import Code
from toolpath.check.stock import Stock
from toolpath.job.model import Cylinder, Drift, Piece, Rule, Side, Skim

PIECE = Piece(
    name="cog",
    solid=Cylinder(diameter=20.0, height=6.0),
    at=(70.0, 60.0),
    measured_from=Side.FRONT,
    depth=4.0,
    clearance=0.5,
)


def judged(kit, depth, least, piece=PIECE, *, cutter="flat 6"):
    """Findings of a few strokes over a piece in the middle of the kit's blank, zero (10, 20)."""
    job = kit.job((piece,))
    tool = next(iter(job.cutters.values()))
    cut = Skim(
        name="skim",
        face=Side.FRONT,
        cutter=replace(tool, name=cutter),
        depth=depth,
        outline=(job.blank.outline,),
        least_cover=least,
    )
    job = replace(job, cuts=(cut,))
    rows = [f"G1 X{x} Y{y}" for y in range(20, 62, 5) for x in (20, 100)]
    program = kit.read("F300", "G0 X20 Y20 Z5", f"G1 Z-{depth}", *rows, "G0 Z5")
    answer = judge_program(
        job, side=Side.FRONT, cutter=tool, program=program, stock=Stock.fresh(job)
    )
    return [f for f in answer.report.findings if f.code is Code.COVER]


@pytest.mark.parametrize(("depth", "short"), [(1.0, False), (1.49, False), (1.51, True)])
def test_less_than_asked_over_a_piece_is_refused(kit, depth, short):
    found = judged(kit, depth, 2.5)
    assert bool(found) is short
    for finding in found:
        assert finding.refuses and finding.piece == "cog" and finding.needed == 2.5
        assert finding.gap == pytest.approx(4.0 - depth, abs=1e-3)
        assert abs(finding.at[0] - 70.0) <= 10.2 and abs(finding.at[1] - 60.0) <= 10.2


def test_drift_upwards_counts(kit):
    assert not judged(kit, 1.4, 2.5)
    (finding,) = judged(kit, 1.4, 2.5, replace(PIECE, drift=Drift(rise=0.3)))
    assert finding.gap == pytest.approx(4.0 - 1.4 - 0.3, abs=1e-3)


def test_nothing_is_asked_of_others(kit):
    assert not judged(kit, 2.0, 0.0)
    assert not judged(kit, 2.0, 2.5, replace(PIECE, rule=Rule.MAY_CUT))
    assert not judged(kit, 2.0, 2.5, cutter="flat 22")

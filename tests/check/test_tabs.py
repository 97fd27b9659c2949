"""Tabs against sums that anybody can do: the thickness less what was cut from both faces."""

from dataclasses import replace

import numpy as np
import pytest

from toolpath.check.replay import judge_program
from toolpath.check.report import Code
from toolpath.check.stock import Stock
from toolpath.job.model import Profile, ProfileSide, Side, Skim, Surface, Tabs

# The part is 60 by 40 at (40, 40) of the kit's blank, from (10, 20) to (130, 100), 40 mm thick; the
# middle of a 6 mm cutter goes round it 3 mm outside. Turned over left to right: x' = 130 - x.


def rim(*middles, top, width=8.0, floor=-40.5):
    """Once round with the back up, level over tabs about x of the blank along the lower side."""
    lines = ["F300", "G0 X27 Y17 Z5", f"G1 Z{floor}"]
    for x in sorted(130.0 - middle for middle in middles):
        first, last = x - width / 2.0 - 3.0, x + width / 2.0 + 3.0
        lines += [f"G1 X{first}", f"G1 Z{top}", f"G1 X{last}", f"G1 Z{floor}"]
    return [*lines, "G1 X93", "G1 Y63", "G1 X27", "G1 Y17", "G0 Z5"]


def skim_rows(depth):
    """The front brought down by strokes over the whole blank."""
    rows = [f"G1 X{x} Y{y}" for y in range(-2, 84, 4) for x in (-5, 125)]
    return ["F300", "G0 X-5 Y-2 Z5", f"G1 Z-{depth}", *rows, "G0 Z5"]


def front_slot(x, depth):
    """A slot of 6 mm across the lower side of the way, from the front."""
    return ["F300", f"G0 X{x - 10} Y10 Z5", f"G1 Z-{depth}", "G1 Y25", "G0 Z5"]


@pytest.fixture
def tabbed(kit):
    """The job, with a skim of the front or without."""

    def job(count=1, height=3.0, width=8.0, skim=0.0, within=0.0, cell=0.5, **changes):
        made = kit.job(cutter=kit.cutter(flute_length=45.0, reach=60.0), within=within)
        tool = next(iter(made.cutters.values()))
        edge = Profile(
            name="edge",
            face=Side.BACK,
            cutter=tool,
            depth=40.5 + within - skim,
            through=True,
            outline=(kit.rectangle(40.0, 40.0, 100.0, 80.0),),
            side=ProfileSide.OUTER,
            tabs=Tabs(count=count, width=width, height=height),
        )
        skims = (
            Skim(
                name="skim",
                face=Side.FRONT,
                cutter=tool,
                depth=skim,
                outline=(made.blank.outline,),
            ),
        )
        cuts = (*skims[: int(skim > 0.0)], edge)
        return replace(made, cuts=cuts, check=replace(made.check, cell=cell), **changes)

    return job


def run(kit, job, *steps, stock=True):
    """Findings about tabs of each program, one after another on one blank."""
    left, found = Stock.fresh(job) if stock else None, []
    tool = next(iter(job.cutters.values()))
    for side, lines in steps:
        judged = judge_program(job, side=side, cutter=tool, program=kit.read(*lines), stock=left)
        left = judged.stock
        found.append([f for f in judged.report.findings if f.code is Code.TAB])
    return found


@pytest.mark.parametrize(("top", "low"), [(-37.0, False), (-36.5, False), (-37.1, True)])
def test_a_tab_is_as_high_as_its_top_lies_above_the_bottom(kit, tabbed, top, low):
    (found,) = run(kit, tabbed(), (Side.BACK, rim(70, top=top)))
    assert len(found) == low
    for finding in found:
        assert finding.refuses and finding.needed == 3.0
        assert finding.gap == pytest.approx(2.9, abs=1e-4)
        assert "a tab 2.9 mm high, 3 mm are asked" in finding.message


def test_what_was_skimmed_from_the_other_face_is_missing_below(kit, tabbed):
    steps = (Side.FRONT, skim_rows(2.0)), (Side.BACK, rim(70, top=-37.0, floor=-38.5))
    first, second = run(kit, tabbed(skim=2.0), *steps)
    assert first == []
    assert second[0].gap == pytest.approx(1.0, abs=1e-4)  # 40 - 2 - 37
    stands = (steps[0], (Side.BACK, rim(70, top=-35.0, floor=-38.5)))
    assert run(kit, tabbed(skim=2.0), *stands) == [[], []]
    # Tops below the board are air: nothing holds the part.
    gone = (steps[0], (Side.BACK, rim(70, top=-38.1, floor=-38.5)))
    (finding,) = run(kit, tabbed(skim=2.0), *gone)[1]
    assert finding.gap == 0.0 and "a tab cut away" in finding.message


def test_a_skim_that_the_job_says_counts_where_nobody_says_what_was_cut(kit, tabbed):
    (found,) = run(kit, tabbed(skim=2.0), (Side.BACK, rim(70, top=-37.0, floor=-38.5)), stock=False)
    assert [f.refuses for f in found] == [True]


def test_the_thinnest_blank_counts(kit, tabbed):
    lines = rim(70, top=-37.0, floor=-41.0)
    (found,) = run(kit, tabbed(within=0.5), (Side.BACK, lines))
    assert found[0].gap == pytest.approx(2.5, abs=1e-4)
    assert run(kit, tabbed(within=0.5, height=2.5), (Side.BACK, lines)) == [[]]


def test_a_measured_face_counts_where_it_lies_low(kit, tabbed):
    corners = ((10.0, 20.0), (130.0, 20.0), (10.0, 100.0), (130.0, 100.0))
    surface = Surface(places=corners, heights=(-0.4,) * 4)
    job = tabbed(surfaces={Side.FRONT: surface})
    (found,) = run(kit, job, (Side.BACK, rim(70, top=-37.0)))
    assert found[0].gap == pytest.approx(2.6, abs=1e-4)


def test_each_tab_is_looked_at(kit, tabbed):
    lines = rim(60, top=-37.0)[:-1] + rim(90, top=-37.0)[1:]
    assert not any(f.refuses for f in run(kit, tabbed(2), (Side.BACK, rim(60, 85, top=-37.0)))[0])
    # A second round that goes over another place cuts the first tab away, and makes none.
    (found,) = run(kit, tabbed(2), (Side.BACK, lines))
    assert [f.refuses for f in found] == [True]
    assert "leaves no tab, 2 are asked" in found[0].message


def test_a_later_program_of_the_same_face_that_cuts_one_away_is_found(kit, tabbed):
    first, second = (
        (Side.BACK, rim(55, 85, top=-37.0)),
        (Side.BACK, ["F300", "G0 X35 Y17 Z5", "G1 Z-40.5", "G1 X55", "G0 Z5"]),
    )
    _, (finding,) = run(kit, tabbed(2), first, second)
    # x of the blank is 130 less that of the program: the tab about 85.
    assert finding.refuses and "a tab cut away" in finding.message
    assert run(kit, tabbed(1), first, second) == [[], []]


def test_a_cut_of_the_other_face_under_a_tab_is_found_whichever_comes_first(kit, tabbed):
    over, under = (Side.BACK, rim(70, top=-37.0)), (Side.FRONT, front_slot(72, 2.0))
    for steps in ((over, under), (under, over)):
        first, second = run(kit, tabbed(), *steps)
        assert first == []
        assert second[0].refuses and " mm wide, 8 mm are asked" in second[0].message
    beside = run(kit, tabbed(), over, (Side.FRONT, front_slot(90, 2.0)))
    assert beside == [[], []]


def test_a_cut_just_beside_the_lane_takes_nothing_of_a_tab(kit, tabbed):
    # The lane lies from y = 34 to 40, the slot up to 33.95, within one cell of it.
    beside = ["F300", "G0 X40 Y10.95 Z5", "G1 Z-2", "G1 X80", "G0 Z5"]
    steps = (Side.BACK, rim(70, top=-37.0)), (Side.FRONT, beside)
    assert run(kit, tabbed(cell=1.0), *steps) == [[], []]


def test_a_tab_that_is_cut_at_its_root_alone_is_found(kit, tabbed):
    # The lane lies from y = 34 to 40; the slot takes it up to 34.5, all along the tab.
    root = ["F300", "G0 X40 Y11.5 Z5", "G1 Z-2", "G1 X80", "G0 Z5"]
    _, (finding,) = run(kit, tabbed(), (Side.BACK, rim(70, top=-37.0)), (Side.FRONT, root))
    assert finding.refuses and finding.gap == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(("width", "narrow"), [(8.0, False), (7.5, False), (5.0, True)])
def test_a_narrow_tab_is_found_but_for_a_few_cells(kit, tabbed, width, narrow):
    (found,) = run(kit, tabbed(), (Side.BACK, rim(70, top=-37.0, width=width)))
    assert len(found) == narrow


@pytest.mark.parametrize("cell", [0.2, 2.0])
def test_wide_cells_are_no_reason_to_refuse(kit, tabbed, cell):
    lines = rim(70, top=-37.0, width=2.0)
    assert run(kit, tabbed(width=2.0, cell=cell), (Side.BACK, lines)) == [[]]
    (found,) = run(kit, tabbed(width=2.0, cell=cell), (Side.BACK, rim(70, top=-38.0, width=2.0)))
    assert found[0].gap == pytest.approx(2.0, abs=1e-3)


def test_a_tab_as_narrow_as_a_few_cells_must_stand_too(kit, tabbed):
    job = tabbed(width=0.25)
    (found,) = run(kit, job, (Side.BACK, rim(70, top=-37.5, width=0.25)))
    assert [f.refuses for f in found] == [True]
    assert not any(f.refuses for f in run(kit, job, (Side.BACK, rim(70, top=-37, width=0.25)))[0])


def test_a_part_without_a_tab_is_found(kit, tabbed):
    (found,) = run(kit, tabbed(), (Side.BACK, rim(top=0.0)))
    assert [f.refuses for f in found] == [True]
    assert "leaves no tab, 1 is asked" in found[0].message


def test_fewer_than_asked_are_a_note(kit, tabbed):
    (found,) = run(kit, tabbed(3), (Side.BACK, rim(60, 85, top=-37.0)))
    assert [(f.refuses, f.code) for f in found] == [(False, Code.TAB)]
    assert found[0].message == '2 of 3 tabs of "edge" stand round x 70.00, y 60.00'


def test_a_cut_that_is_not_down_yet_leaves_everything(kit, tabbed):
    first, second = run(
        kit, tabbed(), (Side.BACK, rim(top=0.0, floor=-30.0)), (Side.BACK, rim(70, top=-37.0))
    )
    assert first == second == []


def test_it_is_told_once(kit, tabbed):
    lines = rim(70, top=-38.0)
    first, second = run(kit, tabbed(), (Side.BACK, lines), (Side.BACK, lines))
    assert (len(first), len(second)) == (1, 0)


def test_a_cut_that_stays_in_the_blank_has_its_tabs_above_its_floor(kit, tabbed):
    job = tabbed(height=2.0)
    edge = replace(job.cuts[-1], depth=10.0, through=False)
    job = replace(job, cuts=(edge,))
    assert run(kit, job, (Side.BACK, rim(70, top=-8.0, floor=-10.0))) == [[]]
    (found,) = run(kit, job, (Side.BACK, rim(70, top=-8.5, floor=-10.0)))
    assert found[0].gap == pytest.approx(1.5, abs=1e-4)


def test_a_random_top_is_told_to_the_rounding(kit, tabbed):
    rng = np.random.default_rng(11)
    for top in rng.uniform(-39.5, -35.0, 6):
        (found,) = run(kit, tabbed(), (Side.BACK, rim(70, top=round(float(top), 4))))
        assert bool(found) is (40.0 + float(top) < 3.0 - 0.01)

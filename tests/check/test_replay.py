import numpy as np
import pytest

from toolpath.check.closest import closest_approach
from toolpath.check.replay import judge_program, judge_rehearsal
from toolpath.check.report import Code, Part, Verdict
from toolpath.check.stock import Stock
from toolpath.errors import InternalError, ProgramError
from toolpath.job.model import Box, Cylinder, Side, Sphere, TurnOver


def judge(kit, job, *lines, side=Side.FRONT, stock=None, cutter=None):
    return judge_program(
        job, side=side, cutter=cutter or kit.cutter(), program=kit.read(*lines), stock=stock
    )


CLEAR = ["F600", "G0 X20 Y20 Z5", "G1 Z-6.9", "X90 Y60", "G0 Z5"]


@pytest.fixture
def job(kit):
    return kit.job((kit.piece(Cylinder(diameter=24.0, height=6.0)),))


@pytest.mark.parametrize(
    "planted",
    [
        ["F600", "G0 X20 Y20 Z5", "G1 Z-7.1", "X90 Y60"],  # too deep by 0.12
        [
            "F600",
            "G0 X20 Y20 Z5",
            "G1 Z-0.2",
            "G20",
            "X2.4 Y1.6 Z-0.3",
        ],  # unit: -0.3 is inches
        ["F600", "G0 X40 Y40 Z5", "G1 Z-10", "G2 X80 Y40 I20 J-30"],  # its centre: J0 goes round
        ["F600", "G0 X40 Y40 Z5", "G1 Z-6.9", "G91", "G1 X20", "Z-1"],  # sign: up was meant
    ],
)
def test_planted_breaches_are_found(kit, job, planted):
    assert judge(kit, job, *CLEAR).report.verdict is Verdict.CLEAR
    round_it = ["F600", "G0 X40 Y40 Z5", "G1 Z-10", "G2 X80 Y40 I20 J0"]
    assert judge(kit, job, *round_it).report.verdict is Verdict.CLEAR
    report = judge(kit, job, *planted).report
    assert report.verdict is Verdict.REFUSED
    assert report.findings[0].code is Code.PIECE


def test_a_finding_says_where_and_what_would_clear(kit, job):
    report = judge(kit, job, "F600", "G0 X20 Y40 Z5", "G1 Z-10", "X48").report
    finding = next(f for f in report.findings if f.refuses)
    # The cylinder's side is at program x 48: tip at 48 is 3 deep into it, flat 6.
    assert finding.piece == "cog"
    assert finding.part is Part.FLUTES
    assert finding.gap == 0.0
    assert finding.needed == pytest.approx(1.02)
    assert finding.line == 6
    assert finding.clear_depth == pytest.approx(6.98)
    assert "6.98 mm" in finding.mend
    assert finding.at[1:] == pytest.approx((60.0, -10.0))
    assert '"cog"' in finding.message
    assert "1.02 mm" in finding.message


def test_the_widest_cutter_that_would_clear(kit, job):
    # Axis 4 from the side: 4 - 1.02 = 2.98 of radius, 5.96 of diameter, to 0.1 mm below: 5.9.
    report = judge(kit, job, "F600", "G0 X44 Y20 Z5", "G1 Z-10", "Y60").report
    finding = next(f for f in report.findings if f.refuses)
    assert finding.gap == pytest.approx(1.0, abs=0.001)
    assert "at most 5.9 mm" in finding.mend


def test_one_finding_a_piece_and_stretch(kit, job):
    lines = ["F600", "G0 X20 Y20 Z5", "G1 Z-8"]
    for y in range(20, 60):
        lines += [f"G1 Y{y}", "X90" if y % 2 == 0 else "X20"]
    report = judge(kit, job, *lines).report
    assert len([f for f in report.findings if f.code is Code.PIECE]) == 1


def test_the_closest_approach_is_the_distance_in_the_open(kit):
    pieces = (
        kit.piece(Box(size=(10.0, 10.0, 5.0)), name="cog"),
        kit.piece(Sphere(diameter=10.0), at=(100.0, 60.0), name="pebble"),
    )
    job = kit.job(pieces)
    lines = ["F600", "G0 X0 Y0 Z5", "G1 Z-10", "X50", "Y20 X60", "X100", "Y0"]
    report = judge(kit, job, *lines).report
    # Box side at program y 35, flat 6 at y 20: 12 apart. The ball's middle (90, 40, -13) and the
    # cutter's rim at y 23, tip at -10, below that full: distance 17 - 5 = 12 level... the tip is
    # above its middle by 3: sqrt(17^2 + 3^2) - 5.
    assert report.closest.piece == "cog"
    assert report.closest.gap == pytest.approx(12.0, abs=0.001)
    ball = report.closest_by_line[8]
    assert ball.gap <= min(12.0, np.hypot(17.0, 3.0) - 5.0) * 1.1 + 0.1
    moves = kit.read("F600", "G0 X0 Y0 Z5", "G1 X90 Y20 Z-10").moves
    closest = closest_approach(job, side=Side.FRONT, cutter=kit.cutter(), moves=moves)
    assert closest.piece == "pebble"
    assert closest.gap == pytest.approx(np.hypot(17.0, 3.0) - 5.0, abs=0.001)


def test_far_from_everything_the_closest_is_still_known(kit):
    job = kit.job((kit.piece(Sphere(diameter=2.0), at=(125.0, 95.0)),))
    report = judge(kit, job, "F600", "G0 X0 Y0 Z5", "G1 Z-1").report
    assert report.closest.gap > 25.0
    assert report.closest_by_line == {}
    assert judge(kit, kit.job(()), *CLEAR).report.closest is None


def test_the_totals(kit, job):
    report = judge(kit, job, "F600", "G0 X0 Y0 Z5", "G0 X10", "G1 Z-1", "G2 X20 Y0 I5 J0").report
    assert report.rapid_length == pytest.approx(10.0)
    assert report.feed_length == pytest.approx(6.0 + np.pi * 5.0)
    assert (report.arcs, report.moves, report.pieces_checked) == (1, 4, 1)
    assert report.bounds[0] == pytest.approx((10.0, 0.0, -1.0))
    assert report.bounds[1] == pytest.approx((20.0, 5.0, 5.0))
    assert report.seconds > 0.0


def test_travel_refuses(kit, job):
    report = judge(kit, job, "F600", "G0 X-300 Y0 Z5", "G0 X301").report
    assert [f.code for f in report.findings if f.refuses] == [Code.TRAVEL]
    assert "601 mm" in next(f for f in report.findings if f.refuses).message


def test_what_cannot_be_judged_and_what_is_noted(kit, job):
    with pytest.raises(ProgramError, match=r"line 4: .*before XY is known"):
        judge(kit, job, "F600", "G1 Z-5")
    report = judge(kit, job, *CLEAR).report
    words = " ".join(f.message for f in report.findings)
    assert report.verdict is Verdict.CLEAR
    assert "what was cut before is not known" in words
    fast = judge(kit, job, "F5000 S30000", "G0 X20 Y20 Z5", "G1 X30", "Z-45").report
    words = " ".join(f.message for f in fast.findings)
    for part in ("the machine's greatest feed", "spindle 30000", "straight plunge", "spoilboard"):
        assert part in words


def test_a_start_half_known_is_judged_at_its_end(kit, job):
    # The first whole place lies 2 above the cylinder's top: 1.02 is kept. Lower, it is not.
    assert judge(kit, job, "F600", "G1 X60 Y40 Z-6").report.verdict is Verdict.CLEAR
    assert judge(kit, job, "F600", "G1 X60 Y40 Z-7").report.verdict is Verdict.REFUSED
    for lines in (["F600", "G1 X60 Y40 Z-6"], ["F600", "G0 X60", "G0 Y40 Z5", "G1 Z-2"]):
        notes = " ".join(f.message for f in judge(kit, job, *lines).report.findings)
        assert "where the machine starts is not known" in notes
    usual = judge(kit, job, *CLEAR).report.findings
    assert "where the machine starts" not in " ".join(f.message for f in usual)


def test_a_stock_is_not_changed_and_a_new_one_returned(kit, job):
    stock = Stock.fresh(job)
    before = stock.faces[Side.FRONT].upper.copy()
    judged = judge(kit, job, *CLEAR, stock=stock)
    assert judged.report.verdict is Verdict.CLEAR
    np.testing.assert_array_equal(stock.faces[Side.FRONT].upper, before)
    after = judged.stock.faces[Side.FRONT]
    # Cut 6.9 deep along the path, nothing elsewhere; the other face is as it was.
    assert after.upper.min() == pytest.approx(-6.9)
    assert (after.lowest <= after.upper).all()
    assert judged.stock.faces[Side.BACK] is stock.faces[Side.BACK]


@pytest.mark.parametrize("turn_over", list(TurnOver))
def test_a_mirrored_height_field_cannot_hide(kit, monkeypatch, turn_over):
    from toolpath.check import grid

    piece = kit.piece(Box(size=(30.0, 8.0, 6.0)), at=(60.0, 50.0), turn=0.6)
    job = kit.job((piece,), turn_over=turn_over)
    lines = ["F600", "G0 X2 Y2 Z5", "G1 X4"]
    for side in Side:
        assert judge(kit, job, *lines, side=side).report.verdict is Verdict.CLEAR
    mirrored = kit.job((kit.piece(Box(size=(30.0, 8.0, 6.0)), at=(60.0, 50.0), turn=-0.6),))
    real = grid.piece_fields
    monkeypatch.setattr(grid, "piece_fields", lambda job, side: real(mirrored, side))
    grid.checked_obstacles.cache_clear()
    with pytest.raises(InternalError, match='disagree about "cog"'):
        judge(kit, job, *lines)


def test_break_through_needs_no_history(kit, job):
    # 40 mm blank, no cut through anywhere in the job: whatever was cut before, this opens it.
    report = judge(kit, job, "F600", "G0 X10 Y10 Z5", "G1 Z-40.1").report
    (finding,) = (f for f in report.findings if f.refuses)
    assert finding.code is Code.BREAK_THROUGH
    shallow = judge(kit, job, "F600", "G0 X10 Y10 Z5", "G1 Z-39.9").report
    assert shallow.verdict is Verdict.CLEAR


def test_a_rapid_into_a_whole_blank_is_a_note_where_history_is_unknown(kit, job):
    lines = ["F600", "G0 X10 Y10 Z5", "G0 Z-3"]
    unknown = judge(kit, job, *lines).report
    assert unknown.verdict is Verdict.CLEAR
    assert [f.refuses for f in unknown.findings if f.code is Code.RAPID_IN_STOCK] == [False]
    assert judge(kit, job, *lines, stock=Stock.fresh(job)).report.verdict is Verdict.REFUSED


def test_a_clearance_larger_than_what_is_listed_by_line(kit):
    far = kit.job((kit.piece(Cylinder(diameter=24.0, height=6.0), clearance=30.0),))
    # Side of the cog at program x 72, edge of the cutter at 100: 28 left, 30.02 needed.
    report = judge(kit, far, "F600", "G0 X103 Y40 Z5", "G1 Z-10").report
    assert report.verdict is Verdict.REFUSED
    assert report.findings[0].gap == pytest.approx(28.0, abs=0.01)


def test_a_rehearsal_is_judged_in_the_air(kit):
    job = kit.job((kit.piece(Cylinder(diameter=24.0, height=6.0)),))
    rehearsed = {"side": Side.FRONT, "cutter": kit.cutter()}
    high = kit.read("F600", "G0 X20 Y20 Z30", "G1 X90 Y60", "G0 Z40")
    assert judge_rehearsal(job, program=high, **rehearsed) == ()
    far = kit.read("F600", "G0 X20 Y20 Z30", "G1 X2000")
    (found,) = judge_rehearsal(job, program=far, **rehearsed)
    assert found.code is Code.TRAVEL
    with pytest.raises(InternalError, match="below the face"):
        judge_rehearsal(job, program=kit.read(*CLEAR), **rehearsed)


def dip(lowest):
    """A half turn of radius 8 in XZ over the middle of the cylinder, down to a height."""
    return ["F600", f"G0 X52 Y40 Z{lowest + 8:.3f}", "G18 G2 X68 I8", "G17 G0 Z5"]


@pytest.mark.parametrize(
    ("lowest", "verdict"),
    [
        (-6.9, Verdict.CLEAR),
        (-6.979, Verdict.CLEAR),
        (-6.98, Verdict.REFUSED),  # 1.02 is kept, but chords ask for 0.0005 more
        (-7.1, Verdict.REFUSED),
    ],
)
def test_an_arc_in_another_plane_is_judged_all_along(kit, job, lowest, verdict):
    # NISTIR 6556 3.5.3: in G18 clockwise goes from -x by -z to +x. The top lies at Z-8.
    report = judge(kit, job, *dip(lowest)).report
    assert report.verdict is verdict
    assert (report.arcs, report.moves) == (1, 3)
    assert report.feed_length == pytest.approx(8 * np.pi, rel=1e-4)
    assert report.bounds[0][2] == pytest.approx(lowest, abs=5e-4)
    line = judge(kit, job, "F600", "G0 X52 Y40 Z5", "G1 Z-6.98", "X68", "G0 Z5").report
    assert line.verdict is Verdict.CLEAR


@pytest.mark.parametrize("cycle", ["G81", "G82 P1", "G83 Q2"])
@pytest.mark.parametrize("back", ["G98", "G99"])
def test_drilling_cycles_in_stock(kit, job, cycle, back):
    # NISTIR 6556 3.5.16. The cylinder's top lies at Z-8 about (60, 40), 12 wide each way.
    head = ["F300", "G0 X20 Y20 Z5"]
    fresh = Stock.fresh(job)
    clear = [*head, f"{back} {cycle} X20 Y20 Z-12 R1", "X95 Y60", "G80", "G0 Z5"]
    assert judge(kit, job, *clear, stock=fresh).report.verdict is Verdict.CLEAR
    deep = [*head, f"{back} {cycle} X20 Y20 Z-12 R1", "X60 Y40", "G80", "G0 Z5"]
    report = judge(kit, job, *deep, stock=fresh).report
    assert {f.code for f in report.findings if f.refuses} == {Code.PIECE}
    low = [*head, f"{back} {cycle} X20 Y20 Z-12 R-3", "X95 Y60", "G80", "G0 Z5"]
    report = judge(kit, job, *low, stock=fresh).report
    assert Code.RAPID_IN_STOCK in {f.code for f in report.findings if f.refuses}

"""Tabs of a part whose blank was skimmed, measured in the emitted text with shapely alone: how much
of the lane stands a tab's height above what is left of the thinnest blank."""

import re
from itertools import pairwise
from pathlib import Path

import pytest
import shapely
from independent import read
from shapely.geometry import LineString, box

JOB = """
name = "clock back"
units = "mm"
[blank]
outline = {{ rect = [0, 0, 100, 80] }}
thickness = 24
thickness_within = 0.3
material = "casting resin"
[face.front]
{surface}
[machine]
travel = [400, 300, 80]
feed_max = 2500
spindle = [8000, 24000]
safe_height = 5
spoilboard = 0.8
[check]
clearance = 0.8
[[cutter]]
name = "flat 6"
shape = "flat"
diameter = 6
flutes = 1
flute_length = 26
reach = 29
{cuts}
"""
SKIM = '[[cut]]\nname = "skim {0}"\nface = "{0}"\ndo = "face"\ndepth = {1}\ncutter = "flat 6"\n'
EDGE = """
[[cut]]
name = "edge"
face = "{face}"
do = "profile"
side = "outer"
outline = {{ rect = [10, 10, 90, 70], corner = 10 }}
through = true
tabs = {{ count = 3, width = 8, height = {height} }}
cutter = "flat 6"
"""
HALF = """
[[cut]]
name = "half way"
face = "front"
do = "profile"
side = "outer"
outline = { rect = [10, 10, 90, 70], corner = 10 }
depth = 10
cutter = "flat 6"
"""
CAVITIES = """
[[cut]]
name = "below"
face = "front"
do = "pocket"
outline = { rect = [20, 2, 80, 16] }
depth = 12
cutter = "flat 6"
"""
PART = box(20, 20, 80, 60).buffer(10.0, quad_segs=64)
LANE = PART.buffer(6.0, quad_segs=64).difference(PART)


def planned(tmp_path: Path, *cuts: str, surface: str = ""):
    from toolpath.app.plan import plan

    job = tmp_path / "job.toml"
    job.write_text(JOB.format(cuts="\n".join(cuts), surface=surface))
    return plan(job, tmp_path / "out", pictures=False)


def lane_below(folder: Path, face: str, z: float):
    """What the programs of a face take of the lane lower than a height, as seen on the front."""
    areas = []
    for program in sorted((folder / "programs").glob(f"*-{face}-*.nc")):
        for move in read(program.read_text()):
            for a, b in pairwise(move.points):
                low = [p for p in (a, b) if p[2] < z]
                if move.rapid or not low:
                    continue
                if len(low) == 1:
                    share = (z - a[2]) / (b[2] - a[2])
                    low.append(a + (b - a) * share)
                ends = [(100.0 - p[0] if face == "back" else p[0], p[1]) for p in low]
                areas.append(LineString(ends).buffer(3.0, quad_segs=32))
    return shapely.union_all(areas).intersection(LANE)


def bridges(folder: Path, face: str, z: float):
    """The parts of the lane that stand at a height, but for slivers."""
    left = LANE.difference(lane_below(folder, face, z)).buffer(-0.02).buffer(0.02)
    return [part for part in shapely.get_parts(left) if part.area > 1.0]


@pytest.mark.parametrize(
    ("face", "skims", "height"),
    [
        ("back", {}, 3.0),
        ("back", {"front": 2.0}, 1.0),
        ("back", {"front": 1.0}, 3.0),
        ("front", {"front": 0.5, "back": 2.0}, 1.5),
    ],
)
def test_tabs_stand_on_what_the_skims_leave(face, skims, height, tmp_path) -> None:
    # The face that is cut first comes first; the other one's skim may come before or after.
    first, second = sorted(["front", "back"], key=lambda f: (f != "front", f))
    every = [SKIM.format(f, skims[f]) for f in (first,) if f in skims]
    every += [EDGE.format(face=face, height=height)] if face == first else []
    every += [SKIM.format(f, skims[f]) for f in (second,) if f in skims]
    every += [EDGE.format(face=face, height=height)] if face == second else []
    done = planned(tmp_path, *every)
    assert done.clear
    other = "front" if face == "back" else "back"
    bottom = -(24.0 - 0.3 - skims.get(other, 0.0))
    found = bridges(tmp_path / "out", face, bottom + height - 0.001)
    assert len(found) == 3
    # Whole across the lane, and as wide as asked: 8 mm by 6 mm and what the round cutter leaves.
    assert all(part.area > 8.0 * 6.0 for part in found)
    # No higher than asked: just above, the lane is open all round.
    assert bridges(tmp_path / "out", face, bottom + height + 0.001) == []


def test_an_uneven_face_below_is_reckoned_with(tmp_path) -> None:
    # It lies 1.2 mm lower at the left than at the right, and the skim takes 0.2 mm.
    surface = "surface = [[0, 0, -1.2], [0, 80, -1.2], [100, 0, 0], [100, 80, 0]]"
    done = planned(
        tmp_path, SKIM.format("front", 0.2), EDGE.format(face="back", height=2), surface=surface
    )
    assert done.clear
    # Its worst place on the lane lies at x = 4: 1.2 * 0.96.
    worst = -(24.0 - 0.3 - 1.2 * 0.96)
    assert len(bridges(tmp_path / "out", "back", worst + 2.0 - 0.01)) == 3


def test_tabs_stand_beside_a_cavity_below_and_over_a_cut_all_round(tmp_path) -> None:
    done = planned(tmp_path, CAVITIES, EDGE.format(face="back", height=2))
    assert done.clear
    found = bridges(tmp_path / "out", "back", -23.7 + 2.0 - 0.001)
    assert len(found) == 3
    assert all(part.distance(box(20, 2, 80, 16)) > 0.0 for part in found)
    done = planned(tmp_path, HALF, EDGE.format(face="back", height=2))
    assert done.clear
    assert len(bridges(tmp_path / "out", "back", -23.7 + 10.0 + 2.0 - 0.001)) == 3


def test_tabs_at_sharp_corners_are_as_wide_as_asked(tmp_path) -> None:
    # A lane on the line itself, whose corners are sharper than the cutter's.
    edge = EDGE.format(face="front", height=1.3).replace('"outer"', '"centre"')
    edge = edge.replace("[10, 10, 90, 70], corner = 10", "[54, 43, 95, 74], corner = 2")
    skim = SKIM.format("back", 1.5)
    for count in (4, 5):
        assert planned(tmp_path, edge.replace("count = 3", f"count = {count}"), skim).clear


def test_the_check_notes_a_program_whose_tabs_are_cut_away(tmp_path) -> None:
    from toolpath.app.check import Run, check

    done = planned(tmp_path, SKIM.format("front", 2.0), EDGE.format(face="back", height=1))
    assert done.clear
    front, back = sorted((tmp_path / "out" / "programs").iterdir())
    # Tops at 20.7 put to 22.1, in the board, as an earlier version wrote them.
    text = back.read_text()
    low = tmp_path / "low.nc"
    low.write_text(re.sub(r"Z-20\.7(0*)\b", r"Z-22.1\1", text))
    assert low.read_text() != text
    before = [Run(face="front", cutter="flat 6", program=front)]
    for program, codes in ((back, []), (low, ["tab"] * 3)):
        asked = Run(face="back", cutter="flat 6", program=program)
        report = check(tmp_path / "job.toml", asked, before).report
        found = [f for f in report.findings if f.code.value == "tab"]
        assert [f.code.value for f in found] == codes
        assert all("a tab cut away" in f.message for f in found)
        assert report.verdict.value == "clear"  # what is cut beyond the job is a note of `check`


def test_tabs_for_which_there_is_no_material_are_a_fault(tmp_path) -> None:
    from toolpath.errors import FaultsError

    cuts = SKIM.format("front", 12), EDGE.format(face="back", height=11.7)
    with pytest.raises(FaultsError, match=r"tabs: height: 11.7 mm must be less than the 11.7 mm"):
        planned(tmp_path, *cuts)

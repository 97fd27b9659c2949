from dataclasses import replace

from toolpath.check.report import Closest, Part
from toolpath.show.watch import MOST_WATCHED, watch_list
from toolpath.show.words import Lengths
from toolpath.units import Unit

MM = Lengths(unit=Unit.MM)


def near(piece, gap, line):
    at = (10.0 * line, 5.0, -14.0)
    return Closest(piece=piece, gap=gap, at=at, at_program=at, line=line, part=Part.FLUTES)


def watched(scene, *closest):
    program = scene.programs[0]
    found = {c.line: c for c in closest}
    bare = tuple(replace(view, closest=None) for view in program.cuts)
    report = replace(program.report, closest_by_line=found)
    return watch_list(scene.job, replace(program, report=report, cuts=bare), MM)


def test_hard_pieces_come_first_then_the_least_room(scene):
    found = watched(
        scene, near("driftwood", 1.1, 3), near("brass cog", 3.0, 4), near("pebble 3", 1.3, 5)
    )
    assert [w.what for w in found] == ["stone: pebble 3", "metal: brass cog", "wood: driftwood"]
    assert [w.hard for w in found] == [True, True, False]
    assert found[1].where == "X 40, Y 5, tip at Z -14, line 4"
    assert found[1].left == "3 mm left (flutes), 1.52 mm needed"


def test_each_piece_once_at_its_nearest_place(scene):
    found = watched(scene, near("brass cog", 3.0, 4), near("brass cog", 1.9, 9))
    assert len(found) == 1 and "line 9" in found[0].where


def test_what_is_far_off_or_no_piece_is_left_out(scene):
    assert watched(scene, near("brass cog", 20.0, 4), near("nobody", 1.0, 5)) == ()
    assert len(watched(scene, *(near(p.name, 2.0, i) for i, p in enumerate(scene.job.pieces)))) <= (
        MOST_WATCHED
    )

from dataclasses import replace

import pytest

from toolpath.job.model import Profile, Tabs
from toolpath.show.sheet_programs import program_block
from toolpath.show.words import Lengths
from toolpath.units import Unit

MM = Lengths(unit=Unit.MM)


def test_the_dial_step_nearest_to_the_speed(whole_scene):
    block = program_block(whole_scene.job, whole_scene.programs[0], MM)
    # 16000 lies nearer to 14500 (step 2) than to 18000.
    assert dict(block.facts)["speed"] == "dial 2, 14500 of 16000 rev/min"


def test_code_and_rehearsals_stand_beside_the_file(whole_scene):
    block = program_block(whole_scene.job, whole_scene.programs[1], MM)
    assert block.code == "K7Q2"
    assert (block.box, block.air) == ("02-back-ball-8-box.nc", "02-back-ball-8-air.nc")


def test_a_hard_piece_that_is_cut_carries_a_caution(whole_scene):
    notes = program_block(whole_scene.job, whole_scene.programs[1], MM).cuts[0].notes
    # Middle of 240..255 x 240..250, seen from the back: 400 - 247.5.
    assert notes[-1].startswith("cuts 21% of star (120 mm³) about X 152.5, Y 245. METAL")
    wood = tuple(
        replace(p, hardness=whole_scene.job.pieces[3].hardness) if p.name == "star" else p
        for p in whole_scene.job.pieces
    )
    soft = replace(whole_scene.job, pieces=wood)
    assert "METAL" not in program_block(soft, whole_scene.programs[1], MM).cuts[0].notes[-1]


@pytest.mark.parametrize(("count", "words"), [(1, "1 tab"), (3, "3 tabs")])
def test_tabs_are_told_with_their_number_and_size(scene, count, words):
    views = [(p, v) for p in scene.programs for v in p.cuts]
    program, view = next(each for each in views if isinstance(each[1].planned.cut, Profile))
    cut = replace(view.planned.cut, tabs=Tabs(count=3, width=8.0, height=2.5))
    planned = replace(view.planned, cut=cut, tabs=((0.0, 0.0),) * count)
    changed = replace(program, cuts=(replace(view, planned=planned),))
    (row,) = program_block(scene.job, changed, MM).cuts
    assert row.notes[0] == f"{words}, 8 mm wide and at least 2.5 mm high"

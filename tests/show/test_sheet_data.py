import math
from dataclasses import replace

from toolpath.check.report import Code, Finding
from toolpath.job.model import Blank, Measured, Side, Zero
from toolpath.show.areas import blank_area
from toolpath.show.sheet_data import sheet_data
from toolpath.units import Unit


def test_one_set_up_for_each_face_with_its_programs(scene):
    data = sheet_data(scene)
    assert [(s.number, s.side) for s in data.setups] == [(1, Side.FRONT), (2, Side.BACK)]
    assert [p.file for s in data.setups for p in s.programs] == [p.file for p in scene.programs]
    assert data.setups[0].turn == ""
    assert data.setups[1].turn.startswith("Turn the blank over left to right")
    assert data.setups[0].spoilboard == "" and data.setups[1].spoilboard == "0.9 mm"


def test_a_face_that_comes_twice_is_two_set_ups(scene):
    first, second, third = scene.programs
    mixed = replace(scene, programs=(second, first, third))
    assert [s.face for s in sheet_data(mixed).setups] == ["BACK", "FRONT", "BACK"]


def test_pieces_have_the_numbers_of_the_machine(scene):
    front, back = sheet_data(scene).setups
    assert front.pieces[0].name == "brass cog"
    row = next(row for row in back.pieces if row.name == "brass cog")
    assert (row.x, row.y, row.depth) == ("100", "200", "28 mm")
    assert row.metal and row.needed == "1.52 mm"
    plate = next(row for row in front.pieces if row.name == "brass plate")
    assert plate.drift == "0.5 mm side, 0.7 mm rise, 4° turn"
    assert math.isclose(scene.job.blank.thickness_within, 0.2)


def test_clamps_have_the_numbers_of_the_machine(scene):
    back = sheet_data(scene).setups[1]
    assert back.clamps == (("clamp 2", "X -15 to 15, Y 120 to 150, 18 mm high"),)


def test_thickness_to_stop_at(scene, make_clock):
    assert sheet_data(scene).setups[0].stop == "differs from 42 mm by more than 0.2 mm"
    exact = replace(scene.job.blank, thickness_within=0.0)
    assert isinstance(exact, Blank)
    data = sheet_data(make_clock(blank=exact))
    assert data.setups[0].stop == "is not 42 mm: the check took it as exact" and data.within == ""


def test_inch_jobs_speak_inches_first(make_clock):
    data = sheet_data(make_clock(unit=Unit.INCH))
    assert data.setups[0].thickness == "1.654 in (42 mm)"
    facts = dict(data.setups[0].programs[0].facts)
    assert facts["diameter"] == "0.236 in (6 mm)"
    assert facts["feed, at most"] == "47.2 in/min (1200 mm/min)"
    assert facts["speed"] == "16000 rev/min"


def test_reasons_name_place_and_mend(refused):
    first, second = sheet_data(refused).reasons
    assert first.cut == "Cut 1, dial recess"
    assert first.title == "too near a piece: pebble 3, 0.2 mm left, 1.02 mm needed"
    assert first.place == "tip at X 70, Y 60, Z -12.8 on the machine, line 88 of the program"
    assert first.mend.startswith("stay above 11.98 mm")
    assert second.cut == "Cut 4, hanger" and "helix" in second.message


def test_a_finding_of_the_program_alone_is_a_reason_too(refused):
    program = refused.programs[0]
    travel = Finding(code=Code.TRAVEL, message="X spans 700 mm, the machine 600 mm")
    report = replace(program.report, findings=(*program.report.findings, travel))
    rows = sheet_data(replace(refused, programs=(replace(program, report=report),))).reasons
    assert [row.cut for row in rows] == ["Cut 1, dial recess", f"Program {program.file}"]
    assert rows[1].message == travel.message


def test_notes_are_told_once_and_change_nothing(scene):
    note = Finding(code=Code.NOTE, message="feed above the machine's", refuses=False)
    program = scene.programs[0]
    view = replace(program.cuts[0], findings=(note,))
    report = replace(program.report, findings=(note, note))
    noted = replace(program, cuts=(view, *program.cuts[1:]), report=report)
    data = sheet_data(replace(scene, programs=(noted,)))
    assert data.setups[0].programs[0].notes == (note.message,)
    assert data.reasons == ()


def test_uncut_area_and_notes_of_the_plan_stand_with_the_cut(scene):
    program = scene.programs[0]
    left = replace(program.cuts[0].planned, uncut_area=12.34, notes=("thin wall",))
    noted = replace(program, cuts=(replace(program.cuts[0], planned=left),))
    row = sheet_data(replace(scene, programs=(noted,))).setups[0].programs[0].cuts[0]
    assert row.notes == ("thin wall", "leaves 12.3 mm² uncut at its floor")


def test_the_least_margin_is_named_with_its_part(scene):
    assert sheet_data(scene).nearest == (
        "pebble 3: 1.04 mm in cut 1, dial recess (flutes); 1.02 mm needed"
    )


def test_zero_in_words(make_clock):
    words = sheet_data(make_clock(zero={Side.FRONT: Zero.CENTRE})).setups
    assert words[0].zero.startswith("the middle of the blank")
    assert words[1].zero.startswith("the lower left corner of the blank's bounding box")


def test_the_second_face_is_thinner_by_what_the_first_lost(scene, skimmed):
    front, back = sheet_data(skimmed(scene)).setups
    assert (front.thickness, back.thickness) == ("42 mm", "41 mm")
    assert back.stop == "differs from 41 mm by more than 0.2 mm"
    # The tips that came 0.9 mm below the thinnest blank of 41.8 come 1 mm further now.
    assert back.spoilboard == "1.9 mm"


def test_a_measured_blank_is_wanted_as_it_was_measured(scene, skimmed):
    outline = blank_area(scene.job.blank).bounds
    size = (outline[2] - outline[0], outline[3] - outline[1])
    changed = skimmed(scene, measured=Measured(size=size, thickness=40.8))
    back = sheet_data(changed).setups[1]
    assert back.thickness == "40.8 mm"
    assert back.stop == "is not 40.8 mm: the check took it as exact"

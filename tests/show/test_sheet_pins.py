from dataclasses import replace

from toolpath.job.model import Side, Skim
from toolpath.show.sheet_pins import pin_words
from toolpath.show.words import Lengths
from toolpath.units import Unit

MM = Lengths(unit=Unit.MM)


def test_both_faces_give_the_pins_in_their_own_numbers(whole_scene):
    front, back = (" ".join(pin_words(whole_scene, side, MM)) for side in Side)
    assert "X 200 Y 12; X 200 Y 268" in front and "odd mark, at X 30 Y 12" in front
    # Turned left to right: x' = 400 - x. Pins on the turning line stay, the mark does not.
    assert "X 200 Y 12; X 200 Y 268" in back and "lies at X 370 Y 12" in back
    assert "turned the wrong way" in back


def test_a_skim_of_the_second_face_goes_over_the_pins(whole_scene):
    assert "shorter" not in " ".join(pin_words(whole_scene, Side.BACK, MM))
    job = whole_scene.job
    skims = [skim(job, Side.FRONT, 1.0), skim(job, Side.BACK, 1.5)]
    blank = replace(job.blank, thickness=42.0, thickness_within=0.25)
    scene = replace(whole_scene, job=replace(job, blank=blank, cuts=(*job.cuts, *skims)))
    # 42 - 0.25 mm at least, 1 mm less for the first face and 1.5 mm for the second.
    assert "shorter than 39.25 mm" in " ".join(pin_words(scene, Side.BACK, MM))
    assert "shorter" not in " ".join(pin_words(scene, Side.FRONT, MM))


def skim(job, side, depth):
    cutter = next(iter(job.cutters.values()))
    return Skim(name="level", face=side, cutter=cutter, depth=depth, outline=job.blank.outline)


def test_a_job_without_pins_says_nothing(scene):
    assert pin_words(scene, Side.FRONT, MM) == ()

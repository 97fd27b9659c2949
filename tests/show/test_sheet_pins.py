from toolpath.job.model import Side
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


def test_a_job_without_pins_says_nothing(scene):
    assert pin_words(scene, Side.FRONT, MM) == ()

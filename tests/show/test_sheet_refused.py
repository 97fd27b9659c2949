from dataclasses import replace

from toolpath.show.sheet_refused import reasons_of
from toolpath.show.words import Lengths
from toolpath.units import Unit

MM = Lengths(unit=Unit.MM)


def test_reasons_of_plates_are_told_too(whole_scene, refused):
    assert reasons_of(whole_scene, MM) == []
    plate = replace(whole_scene.plates[0], programs=refused.programs[:1])
    (row,) = reasons_of(replace(whole_scene, plates=(plate,)), MM)
    assert row.title == "too near a piece: pebble 3, 0.2 mm left, 1.02 mm needed"

import pytest

from toolpath.rs274.codes import Group
from toolpath.rs274.modes import Modes
from toolpath.rs274.planes import ZX
from toolpath.units import Unit


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("unit", Unit.INCH),
        ("plane", ZX),
        ("zero", 550),
        ("absolute", False),
        ("to_start", False),
        ("motion", 0),
        ("feed", 5.0),
        ("rpm", 5.0),
        ("spindle", 3),
        ("tool", 1),
        ("in_spindle", 1),
    ],
)
def test_a_copy_tells_any_change(name, value):
    modes = Modes(unit=Unit.MM)
    before = modes.copy()
    assert modes == before
    setattr(modes, name, value)
    assert modes != before


def test_a_copy_keeps_what_was_stated():
    modes = Modes(unit=Unit.MM)
    before = modes.copy()
    modes.stated.add(Group.PLANE)
    assert (modes != before, before.stated) == (True, set())


def test_what_is_taken_before_any_word():
    # The contract of the check: G17 G90 G54; G98 from memory.
    modes = Modes(unit=Unit.MM)
    assert (modes.plane.name, modes.absolute, modes.zero, modes.to_start) == ("XY", True, 540, True)

"""Programs compared byte for byte: a change of one letter must be meant."""

import math
from pathlib import Path

import pytest

from toolpath.motion.moves import Kind, Move
from toolpath.rs274.write import ProgramText, Section, write_program
from toolpath.units import Unit

HERE = Path(__file__).parent


def moves():
    """A helix into a round pocket for a clock's movement, one loop with two corners, and out."""
    over, down, low = (60.0, 40.0, 6.0), (60.0, 40.0, 1.0), (60.0, 40.0, -3.0)
    centre, out, back = (55.0, 40.0), (70.0, 40.0, -3.0), (70.0, 52.5, -3.0)
    half = math.pi
    return (
        Move(kind=Kind.RAPID, start=over, end=down),
        Move(kind=Kind.ARC, start=down, end=low, centre=centre, sweep=2 * half, feed=500.0),
        Move(kind=Kind.LINE, start=low, end=out, feed=1200.0),
        Move(kind=Kind.LINE, start=out, end=back, feed=1200.0),
        Move(
            kind=Kind.ARC,
            start=back,
            end=(60.0, 52.5, -3.0),
            centre=(65.0, 52.5),
            sweep=half,
            feed=1200.0,
        ),
        Move(kind=Kind.RAPID, start=(60.0, 52.5, -3.0), end=(60.0, 52.5, 6.0)),
    )


@pytest.mark.parametrize(
    ("name", "unit", "arcs", "wait"),
    [
        ("clock-mm.nc", Unit.MM, True, 5.0),
        ("clock-inch.nc", Unit.INCH, True, None),
    ],
)
def test_programs_are_the_same_to_the_byte(name, unit, arcs, wait):
    written = write_program(
        ProgramText(
            title=("Wall clock over pebbles (driftwood)", "Cutter flat 6 - Z0 on this face"),
            unit=unit,
            decimals=unit.decimals,
            arcs=arcs,
            rpm=16000.0,
            spindle_wait=wait,
            wait_in_ms=False,
            safe_height=6.0,
            sections=(
                Section(comment="Cut movement pocket", moves=moves()),
                Section(comment="Cut again", moves=moves()[:2]),
            ),
        )
    )
    assert written.text.encode() == (HERE / name).read_bytes()

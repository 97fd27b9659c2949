import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from toolpath.motion.moves import Kind
from toolpath.rs274.arcs import Arc
from toolpath.rs274.planes import PLANES, XY, YZ, ZX, chords
from toolpath.tolerances import TOLERANCES


@pytest.mark.parametrize(("plane", "normal"), [(XY, (0, 0, 1)), (ZX, (0, 1, 0)), (YZ, (1, 0, 0))])
def test_the_first_axis_turns_into_the_second_seen_from_the_third(plane, normal):
    # NISTIR 6556 3.5.3, 4.3.6.1; right-handed axes (2.1.2.1).
    unit = np.eye(3)
    assert np.cross(unit[plane.first], unit[plane.second]).tolist() == list(normal)
    assert plane in PLANES.values()
    assert plane.flat(plane.place((1.0, 2.0), 3.0)) == (1.0, 2.0)
    assert plane.place((1.0, 2.0), 3.0)[plane.normal] == 3.0


@pytest.mark.parametrize(
    ("body", "middle"),
    [
        # From +z and 5 mm from the centre to +x: a quarter counter-clockwise seen from +y.
        ("G0 X0 Y1 Z5\nG18 G3 X5 Z0 K-5", (5 / math.sqrt(2), 1, 5 / math.sqrt(2))),
        ("G0 X0 Y1 Z5\nG18 G2 X5 Z0 K-5", (-5 / math.sqrt(2), 1, -5 / math.sqrt(2))),
        # From +y to +z: a quarter counter-clockwise seen from +x.
        ("G0 X1 Y5 Z0\nG19 G3 Y0 Z5 J-5", (1, 5 / math.sqrt(2), 5 / math.sqrt(2))),
        ("G0 X1 Y5 Z0\nG19 G2 Y0 Z5 R-5", (1, -5 / math.sqrt(2), -5 / math.sqrt(2))),
    ],
)
def test_sense_of_the_turn_in_other_planes(run, body, middle):
    # NISTIR 6556 3.5.3: seen from the positive end of the axis square to the plane.
    moves = run(body).moves
    far = np.linalg.norm(moves.end - np.array(middle), axis=1).min()
    step = np.linalg.norm(np.diff(moves.end[1:], axis=0), axis=1).max()
    assert far <= step


def test_an_arc_in_another_plane_is_told_and_counted(run):
    program = run("G0 X0 Y0 Z5\nG18 G3 X5 Z0 K-5 Y2\nG2 X0 Z5 I-5 Y0")
    moves = program.moves
    assert program.arcs_in_chords == 2
    assert program.chords == len(moves) - 1
    assert set(moves.kind.tolist()[1:]) == {int(Kind.LINE)}
    assert program.chord_error == TOLERANCES.arc_chord
    assert [note.message for note in program.notes] == [
        "arcs outside the XY plane (G18, G19) are judged as chords within 0.0005 mm, and every gap "
        "must be larger by as much"
    ]
    # Two quarter turns of radius 5 that rise by 2: hypot(2.5 pi, 2) each.
    assert moves.lengths()[1:].sum() == pytest.approx(2 * math.hypot(2.5 * math.pi, 2), rel=1e-4)
    assert run("G0 X0 Y1 Z0\nG2 X1 Y0 J-1").chord_error == 0.0


@pytest.mark.parametrize(
    ("body", "word"),
    [
        ("G18 G2 Y1 I5", "without X or Z"),
        ("G18 G2 X1 J5", "without a centre (I, K)"),
        ("G18 G2 X10 I5 J5", "J means nothing"),
        ("G19 G2 X1 J5", "without Y or Z"),
        ("G19 G2 Y1 I5", "without a centre (J, K)"),
        ("G19 G2 Y1 J5 R5", "both R and a centre (J, K)"),
        ("G18 G3 X10 I5.002", "they may differ by 0.00200 mm"),
        ("G18 G2 X0 R5", "full circle"),
        ("G18 G2 X0 I9999999\n" * 20, "more than 1000000 moves"),
    ],
)
def test_arcs_that_are_wrong_in_other_planes(refused, body, word):
    # NISTIR 6556 3.5.3.1, 3.5.3.2.
    assert word in refused(f"G0 X0 Y0 Z0\n{body}").reason


def test_arcs_from_an_unknown_place_in_other_planes(refused, run):
    assert "give X and Z before" in refused("G0 X0 Y0\nG18 G2 X2 I1").reason
    assert "give Y before" in refused("G0 X0 Z0\nG18 G2 X2 I1 Y1").reason
    assert np.isnan(run("G0 X0 Z0\nG18 G2 X2 I1").moves.end[:, 1]).all()


@given(
    plane=st.sampled_from([XY, ZX, YZ]),
    radius=st.floats(0.01, 500),
    grown=st.floats(-0.002, 0.002),
    first=st.floats(-math.pi, math.pi),
    sweep=st.floats(-2 * math.pi, 2 * math.pi).filter(lambda s: abs(s) > 1e-5),
    rise=st.floats(-20, 20),
)
def test_chords_keep_to_the_arc(plane, radius, grown, first, sweep, rise):
    # The arc by its formula (rotation about the centre), at nine places of every chord.
    def at(t):
        r, angle = radius + grown * t, first + sweep * t
        return np.array(plane.place((3 + r * math.cos(angle), 4 + r * math.sin(angle)), rise * t))

    start, end = tuple(at(0.0).tolist()), tuple(at(1.0).tolist())
    found = np.array([start, *chords(plane, start, end, Arc((3.0, 4.0), sweep))])
    assert found[-1].tolist() == list(end)
    count = len(found) - 1
    for part in np.linspace(0, 1, 9):
        for index in np.unique(np.linspace(0, count - 1, 20).astype(int)).tolist():
            chord = found[index] * (1 - part) + found[index + 1] * part
            far = np.linalg.norm(chord - at((index + part) / count))
            assert far <= TOLERANCES.arc_chord + 1e-9

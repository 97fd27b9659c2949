import numpy as np
import pytest

from toolpath.plan.lines import along, evenly, length_of, starting_at, straight, stretch

SQUARE = np.array([[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]], dtype=float)


def test_distances_along_a_square():
    assert along(SQUARE).tolist() == [0, 10, 20, 30, 40]
    assert length_of(SQUARE) == 40


def test_a_stretch_keeps_the_corners_between_its_ends():
    assert stretch(SQUARE, 5, 25).tolist() == [[5, 0], [10, 0], [10, 10], [5, 10]]


@pytest.mark.parametrize("place", [0.0, 3.0, 10.0, 39.0, 40.0])
def test_a_loop_begun_elsewhere_is_the_same_loop(place):
    found = starting_at(SQUARE, place)
    assert np.allclose(found[0], found[-1])
    assert np.allclose(found[0], stretch(SQUARE, place, place)[0])
    assert length_of(found) == pytest.approx(40)


def test_stretches_that_meet_make_the_whole():
    parts = stretch(SQUARE, 0, 17), stretch(SQUARE, 17, 40)
    assert sum(length_of(part) for part in parts) == pytest.approx(40)
    assert np.allclose(parts[0][-1], parts[1][0])


def test_a_straight_link_has_its_two_ends():
    assert straight(SQUARE[0], SQUARE[2]).tolist() == [[0, 0], [10, 10]]


def test_even_places_are_no_further_apart_than_asked_and_lie_on_the_line():
    corner = np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]])
    found = evenly(corner, 2.0, 2)
    # 7 mm in four steps of 1.75 mm (elementary).
    assert found.tolist() == [[0.0, 0.0], [1.75, 0.0], [3.0, 0.5], [3.0, 2.25], [3.0, 4.0]]
    assert len(evenly(corner, 2.0, 8)) == 9

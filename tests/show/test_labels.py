import itertools

import pytest

from toolpath.show.labels import Box, Surroundings, Wanted, place

WINDOW = Box(left=0, bottom=0, right=320, top=320)


def test_overlap_of_boxes():
    a, b = Box.of((0, 0, 4, 4)), Box.about(4, 4, 4, 4)
    assert a.overlap(b) == 4.0
    assert a.overlap(Box.of((9, 9, 10, 10))) == 0.0
    assert b.middle == (4.0, 4.0)


def test_sixteen_pieces_get_sixteen_clear_labels():
    things = [Box.about(45 + 76 * (k % 4), 40 + 78 * (k // 4), 30, 30) for k in range(16)]
    wanted = [Wanted(thing=thing, width=42, height=12) for thing in things]
    found = place(wanted, Surroundings(window=WINDOW, things=tuple(things)))
    assert all(a.overlap(b) == 0.0 for a, b in itertools.combinations(found, 2))
    assert all(a.overlap(b) == 0.0 for a in found for b in things)
    assert all(box.overlap(WINDOW) == pytest.approx(box.area) for box in found)


def test_a_label_stays_beside_its_thing_where_there_is_room():
    thing = Box.about(160, 160, 20, 20)
    (box,) = place([Wanted(thing=thing, width=40, height=10)], Surroundings(window=WINDOW))
    assert box.left == pytest.approx(thing.right + 3.5)
    assert box.middle[1] == pytest.approx(160)


def test_a_label_keeps_off_labels_already_there():
    thing = Box.about(160, 160, 20, 20)
    taken = Box.about(195, 160, 44, 14)
    around = Surroundings(window=WINDOW, taken=(taken,))
    (box,) = place([Wanted(thing=thing, width=40, height=10)], around)
    assert box.overlap(taken) == 0.0

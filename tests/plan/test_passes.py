import pytest
import shapely
from shapely.geometry import box

from toolpath.drawing.shapes import rect
from toolpath.errors import EntryError
from toolpath.plan.passes import passes_of, without_specks
from toolpath.plan.rings import Room, rooms_in, rooms_of
from toolpath.plan.work import Work


def work_of(shop, **other):
    cut = shop.pocket(rect(0, 0, 60, 40), **other)
    return Work(job=shop.job(cut), cut=cut, cutter=cut.cutter)


@pytest.mark.parametrize("stepover", [0.4, 0.8, 0.95])
def test_a_pass_sweeps_all_that_its_room_reaches(shop, stepover):
    work = work_of(shop, stepover=stepover)
    (room,) = rooms_of(box(0, 0, 60, 40), radius=3.0, step=work.step, turn=1.0)
    swept = shapely.union_all([each.swept(3.0) for each in passes_of(work, room)])
    # 60 x 40 less four corners of (1 - pi/4) 9 (elementary).
    assert swept.area == pytest.approx(2400 - 7.725666, rel=1e-5)


def test_a_room_without_a_way_in_is_refused(shop):
    (room,) = rooms_in(box(0, 0, 0.2, 0.1), radius=3.0, step=2.4, turn=1.0)
    with pytest.raises(EntryError, match=r'cut "cavity": no way in at x 0\.10 y 0\.05'):
        passes_of(work_of(shop), room)


def test_a_speck_is_left_out_only_where_the_rest_reaches_it():
    # Rooms of less than a millimetre round are no way in. The disc of the near one sticks out of
    # what the large one reaches by some 0.01 mm² (6 mm long, 2 um wide): under 1e-4 of it.
    large = rooms_of(box(0, 0, 60, 40), radius=3.0, step=2.4, turn=1.0)[0]
    near = Room(area=box(57.001, 20, 57.002, 20.1), rings=())
    far = Room(area=box(80, 20, 80.1, 20.1), rings=())
    assert without_specks((large, near), 3.0) == (large,)
    assert without_specks((large, far), 3.0) == (large, far)
    assert without_specks((far,), 3.0) == (far,)

import pytest

from toolpath.job.model import Side
from toolpath.show.canvas import draw_bar, draw_zero_mark, new_canvas
from toolpath.show.draw import house_style
from toolpath.show.seen import seen_from


@pytest.mark.parametrize("window", [(0, 0, 400, 60), (0, 0, 60, 400), (-50, -50, 350, 350)])
def test_what_was_asked_for_is_shown_to_one_scale(scene, window):
    with house_style():
        sheet = new_canvas("FRONT", window, scene.job)
    left, right = sheet.axes.get_xlim()
    low, top = sheet.axes.get_ylim()
    assert left <= window[0] and low <= window[1] and right >= window[2] and top >= window[3]
    box = sheet.axes.get_position()
    wide, high = sheet.figure.get_size_inches()
    across, up = box.width * wide / (right - left), box.height * high / (top - low)
    assert across == pytest.approx(up, rel=1e-6)
    assert sheet.mm == pytest.approx(1.0 / across / 72.0)


def test_marks_say_which_room_they_take(scene):
    with house_style():
        sheet = new_canvas("FRONT", (-30, -30, 430, 310), scene.job)
        boxes = [
            *draw_zero_mark(sheet, seen_from(scene.job, Side.FRONT)),
            draw_bar(sheet, scene.job),
        ]
    assert all(box.area > 0.0 for box in boxes)
    assert boxes[-1].right <= sheet.window.right


@pytest.mark.parametrize("window", [(-400, -280, 14, 14), (-14, -280, 400, 14), (-60, -400, 5, 5)])
def test_the_arrows_of_a_zero_at_the_far_side_are_shown(scene, window):
    with house_style():
        sheet = new_canvas("BACK", window, scene.job)
        boxes = draw_zero_mark(sheet, seen_from(scene.job, Side.FRONT))
    for box in boxes:
        assert box.right <= sheet.window.right and box.top <= sheet.window.top

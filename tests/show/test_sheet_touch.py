import pytest

from toolpath.job.model import Side, Surface
from toolpath.show.areas import blank_area
from toolpath.show.sheet_data import sheet_data


@pytest.mark.parametrize(("depth", "z"), [(0.1, "-0.5"), (0.8, "-0.8")])
def test_where_a_skim_does_not_reach_the_height_that_is_there_is_set(scene, depth, z, skimmed):
    x0, y0, x1, y1 = blank_area(scene.job.blank).bounds
    level = Surface(places=((x0, y0), (x1, y0), (x0, y1), (x1, y1)), heights=(-0.5,) * 4)
    changed = skimmed(scene, depth, surfaces={Side.FRONT: level})
    front = sheet_data(changed).setups[0]
    (words,) = front.skimmed
    assert f"at {front.touch} and set Z {z} there" in words
    assert ("does not reach" in words) is (depth < 0.5)


def test_a_face_that_nobody_measured_lies_lower_everywhere(scene, skimmed):
    (words,) = sheet_data(skimmed(scene)).setups[0].skimmed
    assert words.endswith(
        "1 mm lower: touch every later cutter off on the new face and set Z -1 there."
    )


def test_the_place_is_said_to_be_cut_by_the_skim_alone(scene, skimmed):
    front, back = sheet_data(skimmed(scene)).setups
    assert (front.touch_free, back.touch_free) == ("only the skim cuts there", "it stays uncut")
    assert sheet_data(scene).setups[0].touch_free == "it stays uncut"

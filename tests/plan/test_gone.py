from shapely.geometry import box

from toolpath.plan.gone import Gone


def test_what_was_cut_deeper_is_gone_above_too():
    gone = Gone(-1.0)
    gone.add(-3.0, box(0, 0, 10, 10))
    gone.add(-6.0, box(0, 0, 4, 10))
    assert gone.at(-6.0).area == 40
    assert gone.at(-3.0).area == 100
    assert gone.at(-6.1).is_empty


def test_the_same_area_again_only_goes_deeper():
    gone, area = Gone(0.0), box(0, 0, 10, 10)
    gone.add(-3.0, area)
    gone.add(-6.0, area)
    assert gone.at(-3.0).area == gone.at(-6.0).area == 100


def test_air_is_above_the_material_or_where_the_whole_disc_is_gone():
    gone = Gone(-1.0)
    gone.add(-3.0, box(0, 0, 10, 10))
    assert gone.air((50.0, 50.0), 3.0, -1.0)
    assert not gone.air((50.0, 50.0), 3.0, -1.1)
    assert gone.air((5.0, 5.0), 4.9, -3.0)
    assert not gone.air((5.0, 5.0), 5.1, -3.0)
    assert not gone.air((5.0, 5.0), 1.0, -3.1)

from dataclasses import replace

import numpy as np
import pytest

from toolpath.drawing.shapes import circle, rect
from toolpath.errors import EntryError
from toolpath.job.model import ProfileSide, Side, Skim, Tabs
from toolpath.plan.bridges import Bridges, tab_size
from toolpath.plan.circuit import Circuit
from toolpath.plan.profile import profile_loops

TABS = Tabs(count=2, width=5.0, height=2.0)


def given(shop, tabs=TABS, depth=42.5, **other):
    cut = shop.profile(rect(0, 0, 120, 80), depth=depth)
    return replace(cut, tabs=tabs, **other)


def on(shop, cut, leave=0.0):
    walls = tuple(Circuit(edges) for edges in profile_loops(cut))
    return Bridges.on(shop.job(cut), cut, walls), walls


@pytest.mark.parametrize(("depth", "top"), [(42.5, -40.0), (42.0, -40.0), (30.0, -28.0)])
def test_the_top_is_above_the_bottom_of_the_blank_or_the_floor(shop, depth, top):
    cut = given(shop, depth=depth)
    size = tab_size(cut, TABS, -42.0)
    assert size.top == pytest.approx(top)
    assert size.floor == -depth
    assert size.chord == 5.0 + 6.0


def test_a_tab_as_high_as_the_material_is_not_made_higher(shop):
    tall = Tabs(count=2, width=5.0, height=80.0)
    cut = given(shop, tabs=tall, below=4.0)
    assert tab_size(cut, tall, -42.0).top == -3.5


def test_hops_of_the_loop_beside_a_wall_are_over_the_same_tabs(shop):
    cut = given(shop, finish=0.4)
    bridges, walls = on(shop, cut)
    rough = Circuit(profile_loops(cut, 0.4)[0])
    for loop in (walls[0], rough):
        hops = bridges.over(loop)
        middles = loop.at((hops.first + hops.last) / 2.0)
        apart = np.hypot(*(middles[:, None] - bridges.spots[None]).transpose(2, 0, 1))
        assert apart.min(axis=0).max() <= 0.41
        wide = 11.0 if loop is not rough else 11.2
        assert (hops.last - hops.first) == pytest.approx([wide, wide])
    far = Circuit(rect(-100, -100, -50, -50).outer.points)
    assert bridges.over(far) is None


def test_no_tabs_asked_for_are_none(shop):
    bridges, walls = on(shop, given(shop, tabs=None))
    assert bridges.middles == ()
    assert bridges.over(walls[0]) is None


def test_no_room_says_what_each_needs_and_how_long_the_path_is(shop):
    cut = replace(shop.profile(rect(0, 0, 14, 14), side=ProfileSide.INNER), tabs=TABS)
    with pytest.raises(EntryError, match=r"X 7 mm, Y 7 mm: each needs .* the path is 32 mm long"):
        on(shop, cut)


def beside(shop, cut, *others):
    walls = tuple(Circuit(edges) for edges in profile_loops(cut))
    return Bridges.on(shop.job(*others, cut), cut, walls)


def skim_of(cut, face, depth):
    outline = (rect(-200, -200, 200, 200),)
    return Skim(name="skim", face=face, cutter=cut.cutter, depth=depth, outline=outline)


def test_tabs_stand_on_what_a_skim_of_the_other_face_leaves(shop):
    # 42 less 2, and 2 high: on a cut that ends at the board, and on one that comes first.
    cut = given(shop, through=True)
    for depth in (40.5, 42.5):
        made = beside(shop, replace(cut, depth=depth), skim_of(cut, Side.BACK, 2.0))
        assert made.size.top == pytest.approx(-38.0)
    assert beside(shop, cut, skim_of(cut, Side.FRONT, 2.0)).size.top == pytest.approx(-40.0)


def test_tabs_keep_beside_a_cavity_of_the_other_face(shop):
    cut = given(shop, through=True)
    free = beside(shop, cut)
    at = free.middles[0]
    cavity = shop.pocket(circle(*at, 8.0), depth=15.0, face=Side.BACK)
    kept = beside(shop, cut, cavity)
    assert kept.size.top == free.size.top == pytest.approx(-40.0)
    assert np.hypot(*(kept.spots - at).T).min() > 8.0 + 3.0


def test_over_a_cut_all_the_way_round_from_the_other_face_they_stand_on_its_floor(shop):
    cut = given(shop, through=True)
    below = replace(
        shop.profile(rect(0, 0, 120, 80), depth=12.0, face=Side.BACK), name="from below"
    )
    assert beside(shop, cut, below).size.top == pytest.approx(-42.0 + 12.0 + 2.0)


def test_tabs_that_cannot_have_their_height_are_refused(shop):
    cut = given(shop, through=True)
    deep = replace(shop.profile(rect(0, 0, 120, 80), depth=40.5, face=Side.BACK), name="below")
    with pytest.raises(EntryError, match=r'"rim": no tab fits|2 mm high do not fit: .*1.5 mm'):
        beside(shop, cut, deep)
    skims = skim_of(cut, Side.BACK, 20.0), replace(skim_of(cut, Side.FRONT, 20.5), name="own")
    with pytest.raises(EntryError, match=r"tabs 2 mm high do not fit: .* 1.5 mm are left"):
        beside(shop, cut, *skims)

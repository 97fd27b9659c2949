"""Reliefs from job to text and back, against exact surfaces: replayed by tests/tools alone."""

from functools import cache

import numpy as np
import pytest
from relief_replay import along_move, bites, cutter_text, feeds, height_of, planned, replayed, tips
from scipy import ndimage

R = 3.0
SURFACES = {
    "plane": lambda x, y: 6 + np.tan(np.radians(20)) * y,
    "sphere": lambda x, y: 22 - np.sqrt(400 - x**2 - y**2),
    "cone": lambda x, y: 1 + 0.6 * np.hypot(x, y),
    "sine": lambda x, y: 4 + 1.5 * np.sin(x / 3) * np.cos(y / 3),
}
FORMS = {"ball-6": ("ball", 6), "flat-6": ("flat", 6), "ball-2": ("ball", 2)}
BOX = (12.0, 13.0, 16.0, 17.0)
CUSP = 0.02


@pytest.mark.parametrize("name", SURFACES)
def test_exact_surfaces_are_neither_gouged_nor_left_in_higher_ridges(tmp_path, name):
    depth = SURFACES[name]
    made, programs = planned(tmp_path, depth, cut='cutter = "ball 6"\nfinish = 0.3')
    assert made.clear
    assert made.payload["cuts"][0]["uncut_area_mm2"] < 0.5
    x, y, z = replayed(programs, FORMS, BOX)
    want = -depth(x - 15, y - 15)
    over = (z - want) / np.sqrt(1 + sum(g**2 for g in np.gradient(want, 0.02)))
    # the stated tolerance is 0.002, and the map is linear between samples 0.1 apart
    assert over.min() >= -0.005
    assert over.max() <= CUSP * 1.1 + 0.002


def test_on_a_level_ridges_are_those_of_elementary_geometry(tmp_path):
    _, programs = planned(
        tmp_path, lambda x, y: 3.0 + 1e-6 * x, cut='cutter = "ball 6"\nfinish = 0.3'
    )
    places = tips(programs[-1][1], 0.05)
    inner = places[np.abs(places - 15)[:, :2].max(axis=1) < 4]
    rows = np.unique(np.round(inner[np.abs(inner[:, 2] + 3) < 0.01][:, 1], 2))
    step = np.median(np.diff(rows))
    ridge = R - np.sqrt(R**2 - (step / 2) ** 2)  # check-values: elementary geometry
    _, _, z = replayed(programs, FORMS, BOX)
    assert np.ptp(z) == pytest.approx(ridge, rel=0.1)
    assert ridge == pytest.approx(CUSP, rel=0.1)


def test_the_finishing_path_is_hardly_longer_than_area_over_stepover(tmp_path):
    """30 mm square between walls: the middle of a ball of 6 mm goes over 24 mm by 24 mm."""
    cut = 'cutter = ["flat 6", "ball 6"]\nfinish = 0.3'
    cutters = cutter_text("flat 6", "flat", 6) + cutter_text("ball 6", "ball", 6)
    level = lambda x, y: 4.0 + 1e-6 * x  # noqa: E731
    _, programs = planned(tmp_path, level, size=30, cutters=cutters, cut=cut)
    places = tips(programs[-1][1], 0.2)
    step = 2 * np.sqrt(CUSP * (2 * R - CUSP))  # elementary geometry
    length = np.hypot(*np.diff(places[:, :2], axis=0).T)
    on = np.abs(places[:, 2] + 4.0) < 0.01
    assert length[(length < 0.5) & on[1:] & on[:-1]].sum() <= 1.15 * 24.0**2 / step


@pytest.mark.parametrize("deep", [(3.0, 5.0), (0.5, 2.5)])
def test_of_a_groove_along_the_rows_and_a_low_rim_only_what_is_out_of_reach_stays(tmp_path, deep):
    depth = lambda x, y: np.where(np.abs(y) < 1.0, deep[1], deep[0])  # noqa: E731
    made, _ = planned(tmp_path, depth, cut='cutter = "ball 6"\nfinish = 0.3')
    (cut,) = made.payload["cuts"]
    assert cut["uncut_area_mm2"] < 0.5
    # what no ball of 6 mm gets into is told, with what to do
    assert any("of ball 6 " in note and "a smaller cutter" in note for note in cut["notes"])


SMALL = {
    "plane": lambda x, y: 3 + 0.3 * y,
    "sphere": lambda x, y: 14 - np.sqrt(144 - x**2 - y**2),
    "cone": lambda x, y: 1 + 0.6 * np.hypot(x, y),
    "sine": lambda x, y: 3 + 0.8 * np.sin(x / 2) * np.cos(y / 2),
    "step": lambda x, y: np.where(np.abs(x) < 2, 2.0, 3.0),
}
ENDS = ["flat", "ball", "bull", "vee"]
WAYS = ["parallel", "rings", "contours"]
USUAL = (0.0005, 1.3)
"""Share of a patch that may stand higher than 1.1 ridges and the stated tolerance, and the highest
place in ridges: what a node of 0.02 mm and the closing by nodes of 0.05 mm see beside the truth."""


def as_mapped(name, half, x, y):
    """The surface as its map has it at places about the middle: straight between samples each
    0.1 mm, so that a step is a slope 0.1 mm wide."""
    samples = np.linspace(-half, half, round(20 * half) + 1)
    z = -SMALL[name](*np.meshgrid(samples, samples))
    return ndimage.map_coordinates(z, np.array([y, x]) / 0.1 + 10 * half, order=1, mode="nearest")


@cache
def closed_with(form, diameter, name, half, step=0.05):
    """What a cutter cannot get under, at x and y of an axis about the middle: the surface cut
    into a square, closed with the cutter's form by scipy. Its nodes are those of the map too, on
    which all its edges lie."""
    axis = step * np.arange(-round((half + 1.5) / step), round((half + 1.5) / step) + 1)
    x, y = np.meshgrid(axis, axis)
    inside = np.maximum(np.abs(x), np.abs(y)) <= half + 1e-9
    z = np.where(inside, as_mapped(name, half, x, y), 0.0)
    most = round(diameter / 2 / step)
    r = step * np.hypot(*np.meshgrid(*[np.arange(-most, most + 1)] * 2))
    below = r <= diameter / 2 + 1e-9
    up = np.where(below, height_of(form, diameter)(np.minimum(r, diameter / 2 - 1e-9)), 0.0)
    form = {"footprint": below, "structure": -up}
    return axis, ndimage.grey_erosion(ndimage.grey_dilation(z, **form), **form)


@cache
def closed_across(form, diameter, half, step=0.005):
    """The same of the step surface, which is the same at every y: its section across the step,
    closed with the section of the cutter, at nodes so near that no tip matters between them."""
    axis = step * np.arange(-round((half + 1.5) / step), round((half + 1.5) / step) + 1)
    z = np.where(np.abs(axis) <= half + 1e-9, as_mapped("step", half, axis, 0.0 * axis), 0.0)
    r = step * np.abs(np.arange(-round(diameter / 2 / step), round(diameter / 2 / step) + 1))
    up = height_of(form, diameter)(np.minimum(r, diameter / 2 - 1e-9))
    whole = {"footprint": np.ones(len(r)), "structure": -up}
    return axis, ndimage.grey_erosion(ndimage.grey_dilation(z, **whole), **whole)


def reach_of(form, diameter, name, half, x, y):
    """The lowest that a cutter can leave at places about the middle."""
    if name == "step":
        return np.interp(x, *closed_across(form, diameter, half))
    axis, closed = closed_with(form, diameter, name, half)
    nodes = (np.array([y, x]) - axis[0]) / (axis[1] - axis[0])
    return ndimage.map_coordinates(closed, nodes, order=1)


def test_a_step_closed_with_a_ball_is_a_fillet():
    """Elementary geometry: a ball of radius 1.5 on a floor touches an edge 1 mm up sqrt(2) from its
    axis, and leaves its own form under it; the step as mapped begins at 1.9."""
    x, axis = np.linspace(2.0, 3.2, 50), 1.9 + np.sqrt(2.0)
    want = -3.0 + 1.5 - np.sqrt(1.5**2 - (axis - x) ** 2)
    assert reach_of("ball", 3, "step", 12.0, x, 0.0 * x) == pytest.approx(want, abs=0.004)


def far_from(z, reach, step=0.02, most=6):
    """How far nodes of z lie from the solid under another surface, mm: its height, or less where
    that solid stands beside them, at its nodes and half way between."""
    found = np.maximum(z - reach, 0.0)
    rows, columns = z.shape
    half = np.meshgrid(*[np.arange(-2 * most, 2 * n + 2 * most - 1) / 2 for n in z.shape])
    wide = ndimage.map_coordinates(reach, [each.T for each in half], order=1, mode="nearest")
    for i, j in np.ndindex(4 * most + 1, 4 * most + 1):
        off = step / 2 * np.hypot(i - 2 * most, j - 2 * most)
        if off <= step * most:
            beside = wide[i : i + 2 * rows - 1 : 2, j : j + 2 * columns - 1 : 2]
            np.minimum(found, np.hypot(np.maximum(z - beside, 0.0), off), out=found)
    return found


@pytest.mark.parametrize("by", WAYS)
@pytest.mark.parametrize("form", ENDS)
@pytest.mark.parametrize("name", SMALL)
def test_of_every_form_and_order_nothing_is_left_but_ridges(tmp_path, name, form, by):
    # on both sides of a step there is room for the whole of a cutter
    depth, half, cusp = SMALL[name], 6.0 if name == "step" else 4.5, 0.03
    cut = f'cutter = "c"\nfinish = 0.2\ncusp = {cusp}\nfinish_by = "{by}"'
    cutters = cutter_text("c", form, 3)
    made, programs = planned(tmp_path, depth, size=2 * half, margin=1.5, cutters=cutters, cut=cut)
    assert made.clear
    x, y, z = replayed(programs, {"c": (form, 3)}, (3.2, 5.0, 7.2, 8.8))
    off = x - half - 1.5, y - half - 1.5
    want, reach = as_mapped(name, half, *off), reach_of(form, 3, name, half, *off)
    assert (z - want).min() >= -0.005
    steep = np.sqrt(1 + sum(g**2 for g in np.gradient(want, 0.02)))
    over = (z - np.maximum(want, reach)) / steep
    over = np.minimum(over, far_from(z, np.maximum(want, reach)))
    share, most = USUAL
    # ridges within 10 % (elementary geometry: cusp = R - sqrt(R^2 - (s / 2)^2) and its like), and
    # 0.003, up to which paths lie above the lowest tips
    assert (over > 1.1 * cusp + 0.003).mean() <= share
    assert over.max() <= most * cusp


def test_at_the_edge_of_the_blank_passes_run_off_it(tmp_path):
    depth = SMALL["sine"]
    cut = 'cutter = "ball 3"\nfinish = 0.2'
    cutters = cutter_text("ball 3", "ball", 3)
    made, programs = planned(tmp_path, depth, size=12, margin=0.0, cutters=cutters, cut=cut)
    assert made.clear
    assert made.payload["cuts"][0]["uncut_area_mm2"] < 0.5
    x, y, z = replayed(programs, {"ball-3": ("ball", 3)}, (10.5, 4.0, 12.0, 8.0))
    over = z + depth(x - 6, y - 6)
    assert over.min() >= -0.005
    assert over.max() <= 1.1 * CUSP * 1.3 + 0.002  # upright, where the floor falls by 40 degrees
    assert tips(programs[-1][1], 0.1)[:, 0].max() > 12.5


def away_from_left(depth, places, diameter, least, half=12.0, step=0.1):
    """How far places lie in plan from where a ball cannot get within `least` of a surface cut into
    a square: closed with the ball by scipy, which shares nothing with toolpath."""
    axis = np.arange(-half - 1, half + 1 + step / 2, step)
    x, y = np.meshgrid(axis, axis)
    inside = np.maximum(np.abs(x), np.abs(y)) <= half
    z = np.where(inside, -depth(x, y), 0.0)
    off = np.arange(-diameter / 2, diameter / 2 + step / 2, step)
    r = np.hypot(*np.meshgrid(off, off))
    ball = {"footprint": r <= diameter / 2, "structure": -height_of("ball", diameter)(r)}
    ball["structure"][~ball["footprint"]] = 0.0
    closed = ndimage.grey_erosion(ndimage.grey_dilation(z, **ball), **ball)
    away = ndimage.distance_transform_edt((closed - z <= least) | ~inside) * step
    nodes = (places[:, ::-1] + half + 1) / step
    return ndimage.map_coordinates(away, nodes.T, order=1)


def test_a_smaller_cutter_takes_only_what_the_larger_left(tmp_path):
    depth = lambda x, y: 4 - 1.5 / (1 + np.exp(-(np.abs(x) - 4) / 0.2))  # noqa: E731
    cutters = cutter_text("flat 6", "flat", 6) + cutter_text("ball 6", "ball", 6)
    cutters += cutter_text("ball 2", "ball", 2, 1.0)
    cut = 'cutter = ["flat 6", "ball 6", "ball 2"]\nfinish = 0.3'
    made, programs = planned(tmp_path, depth, cutters=cutters, cut=cut)
    assert made.clear
    assert [name for name, _ in programs] == ["flat-6", "ball-6", "ball-2"]
    # each of its tips touches what the form of the larger one leaves: a radius from it in plan, and
    # a node of the 0.15 mm grid at which the planner looks at what stands
    small = tips(programs[2][1], 0.05)
    assert away_from_left(depth, small[:, :2] - 15, 6, CUSP).max() <= 1.0 + 0.15
    x, y, z = replayed(programs, FORMS, (17.0, 13.0, 21.0, 15.0))
    over = z + depth(x - 15, y - 15)
    assert over.min() > -0.005
    assert over.max() < 0.12


def petals(x, y):
    """Eight petals that narrow towards the middle, 2.5 mm high, as those of a rosette."""
    r, angle = np.hypot(x, y), np.arctan2(y, x)
    high = np.cos(np.pi / 2 * np.minimum(r / 13, 1.0)) * (
        0.7 + 0.3 * np.cos(8 * angle) * np.minimum(r / 4, 1.0)
    )
    return 3.2 - 2.5 * high


@pytest.fixture(scope="module")
def in_petals(tmp_path_factory):
    cutters = cutter_text("flat 6", "flat", 6, 1.5) + cutter_text("ball 3", "ball", 3, 1.0)
    cutters += cutter_text("ball 2", "ball", 2, 0.6)
    cut = 'cutter = ["flat 6", "ball 3", "ball 2"]\nfinish = 0.3'
    folder = tmp_path_factory.mktemp("petals")
    made, programs = planned(folder, petals, step=0.2, cutters=cutters, cut=cut)
    assert made.clear
    forms = {"flat-6": ("flat", 6), "ball-3": ("ball", 3), "ball-2": ("ball", 2)}
    most = {"flat-6": 1.55, "ball-3": 1.05, "ball-2": 0.65}
    assert [name for name, _ in programs] == list(forms)
    return bites(programs, forms, (2.0, 2.0, 28.0, 28.0), most)


def test_no_round_end_is_plunged_straight_into_what_a_larger_cutter_left(in_petals):
    deepest = in_petals[(in_petals[:, 1] == 1) & (in_petals[:, 2] < 0.0)][:, 3]
    # the ways down to levels and paths: in air, and what a node of 0.1 mm sees beside the truth
    assert len(deepest) > 20
    assert deepest.max() <= 0.02


@pytest.mark.parametrize("place", [0, 1, 2])
def test_no_cutter_takes_more_than_its_stepdown_of_what_others_left(in_petals, place):
    # 0.05 mm more are not worth a pass, and slivers along walls come off at once: no wider in all
    # than 15 % of the diameter over the way of a move (docs/job-file.md)
    taken = in_petals[in_petals[:, 0] == place]
    assert taken[:, 4].max() <= 0.15 * (6, 3, 2)[place] ** 2


COG = """
[[piece]]
name = "cog"
solid = { kind = "cylinder", diameter = 8, height = 3 }
at = [15, 15]
from_front = 3
hardness = "metal"
"""


@pytest.mark.parametrize("rule", ["stop", "rise", "pillar"])
def test_a_piece_in_the_way(tmp_path, rule):
    depth = lambda x, y: 4.0 + 0.02 * x  # noqa: E731
    cut = f'cutter = "ball 6"\nfinish = 0.3\nif_blocked = "{rule}"'
    made, programs = planned(tmp_path, depth, pieces=COG, cut=cut)
    if rule == "stop":
        assert not made.clear
        assert programs == []
        return
    assert made.clear, made.payload["cuts"][0]["findings"]
    x, y, z = replayed(programs, FORMS, (6.0, 14.0, 15.5, 15.0), step=0.05)
    r = np.hypot(x - 15, y - 15)
    if rule == "rise":
        # over the middle of the cog: its need, and the planner's margin
        over = z[r < 3.0] - (-3.0 + 1.02)
        assert over.min() >= 0.0
        assert over.max() <= 0.3
        outside = (r > 5.8) & (x > 6.2)
        beside = (z + depth(x - 15, y - 15))[outside]
        assert beside.min() >= -0.005
    else:
        # nothing is left but within clearance + 0.3 mm of the footprint
        outside = r > 4.0 + 1.02 + 0.3 + 3.0
        assert (z + depth(x - 15, y - 15))[outside].max() < 0.05


def sinking(text):
    """How fast each feed move of a program goes down and along, mm/min: by its own reader."""
    feed, found = np.nan, []
    for start, end, mode, values in feeds(text):
        feed = values.get("F", feed)
        places = along_move(start, end, mode, values, 0.02)
        length = float(np.sqrt((np.diff(places, axis=0) ** 2).sum(axis=1)).sum())
        fall = max(start[2] - end[2] - 1e-4, 0.0)  # both heights are rounded to four decimals
        found.append((feed * fall / length if length else 0.0, feed))
    return np.array(found)


@pytest.mark.parametrize("rule", ["feed = 1200", "chip = 0.0375"])
def test_nothing_in_a_relief_goes_down_faster_than_the_cutter_plunges(tmp_path, rule):
    depth = lambda x, y: 1 + np.minimum(1.2 * np.hypot(x, y), 7.0)  # noqa: E731
    cutters = cutter_text("flat 6", "flat", 6) + cutter_text("ball 6", "ball", 6)
    cutters = cutters.replace("feed = 1200", rule)  # both 1200 mm/min at 16000 rev/min, 2 flutes
    cut = 'cutter = ["flat 6", "ball 6"]\nfinish = 0.3'
    made, programs = planned(tmp_path, depth, cutters=cutters, cut=cut)
    assert made.clear
    flat, ball = (sinking(text) for _, text in programs)
    for each in (flat, ball):
        assert each[:, 0].max() == pytest.approx(300.0, rel=5e-4)
    # docs/feeds.md: a stated feed is never exceeded; one made from a chip rises where the chip is
    # thin, of flat and bull cutters alone, and never over feed_max; slots take 65 %, but no less
    # than 0.025 mm a tooth
    assert ball[:, 1].max() == pytest.approx(1200.0)
    assert flat[:, 1].max() <= 3000.0
    assert bool(flat[:, 1].max() > 1300.0) is (rule != "feed = 1200")
    assert np.isclose(flat[:, 1], max(0.65 * 1200.0, 0.025 * 2 * 16000), rtol=0.01).any()

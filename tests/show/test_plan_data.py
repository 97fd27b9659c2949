from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from toolpath.drawing.shapes import rect
from toolpath.job.model import Blank, Side, TurnOver
from toolpath.motion.moves import Kind, Move, MoveTable
from toolpath.show.panel import legend_handles
from toolpath.show.plan_data import cuts_of, named_pieces, plan_data, sides_of


def middle(scene, side, name):
    data = plan_data(scene, side)
    mark = next(piece for piece in data.pieces if piece.name == name)
    return mark.nominal.centroid.coords[0]


def over(way: TurnOver) -> dict:
    return {"blank": Blank(outline=rect(0, 0, 400, 280), thickness=42, turn_over=way)}


def test_the_front_is_as_drawn(scene):
    # pebble 3 lies at (70, 60): lower left.
    assert middle(scene, Side.FRONT, "pebble 3") == pytest.approx((70, 60))


def test_left_is_right_on_the_back_turned_left_to_right(make_clock):
    scene = make_clock(**over(TurnOver.LEFT_RIGHT))
    assert middle(scene, Side.BACK, "pebble 3") == pytest.approx((330, 60))


def test_low_is_high_on_the_back_turned_top_to_bottom(make_clock):
    scene = make_clock(**over(TurnOver.TOP_BOTTOM))
    assert middle(scene, Side.BACK, "pebble 3") == pytest.approx((70, 220))


def test_depths_are_those_below_the_face_that_is_up(scene):
    front = {p.name: p.depth for p in plan_data(scene, Side.FRONT).pieces}
    back = {p.name: p.depth for p in plan_data(scene, Side.BACK).pieces}
    assert front["brass cog"] == pytest.approx(8)
    assert back["brass cog"] == pytest.approx(42 - 8 - 6)
    assert back["brass plate"] == pytest.approx(10)
    assert list(front.values()) == sorted(front.values(), reverse=True)


def test_only_what_belongs_to_the_face(scene):
    front, back = (plan_data(scene, side) for side in Side)
    assert [c.number for c in front.cuts] == [1, 2]
    assert [c.number for c in back.cuts] == [3, 4, 5, 6]
    assert [c.name for c in front.clamps] == ["clamp 1"]
    assert back.clamps[0].area.bounds == pytest.approx((-15, 120, 15, 150))
    assert "turning over left to right" in back.title
    assert sides_of(scene) == (Side.FRONT, Side.BACK)


def test_paths_lie_on_their_cuts_on_both_faces(scene):
    for side in Side:
        data = plan_data(scene, side)
        cuts = shapely.union_all([cut.area for cut in data.cuts]).buffer(0.1)
        feeds = data.feeds[~np.isnan(data.feeds).any(axis=1)]
        assert len(feeds) > 50
        assert shapely.contains_xy(cuts, *feeds.T).all()


def test_rapids_and_feeds_are_kept_apart(scene):
    view = cuts_of(scene, Side.FRONT)[1]
    only = replace(scene, programs=(replace(scene.programs[0], cuts=(view,)),))
    data = plan_data(only, Side.FRONT)
    rapids = data.rapids[~np.isnan(data.rapids).any(axis=1)]
    assert (rapids[0] == (33, 33)).all()
    feeds = data.feeds[~np.isnan(data.feeds).any(axis=1)]
    radii = np.hypot(*(feeds - (200, 140)).T)
    assert set(np.round(radii, 6)) == set(range(3, 28, 4))
    assert np.nanmax(np.hypot(*np.diff(feeds, axis=0).T)) <= 4.0
    assert data.entries[0] == pytest.approx((227, 140))
    assert len(data.entries) == 7


def test_a_drill_is_entered_once_a_hole(make_clock):
    scene = make_clock()
    bore = replace(scene, programs=(scene.programs[2],))
    entries = plan_data(bore, Side.BACK).entries
    assert entries == pytest.approx(np.array([(200, 140)]))


def test_closest_places_come_nearest_first(scene):
    data = plan_data(scene, Side.FRONT)
    assert data.closest[0].text == "closest: pebble 3, 1.04 mm left, 1.02 needed"
    assert data.closest[0].at == pytest.approx((70, 60))
    assert [p.cut for p in data.closest] == [1, 2]
    assert data.refused == ()


def test_refused_places_are_marked_where_they_are(refused):
    front, back = (plan_data(refused, side) for side in Side)
    assert front.refused[0].text == "REFUSED: pebble 3, 0.2 mm left, 1.02 needed"
    assert front.refused[0].at == pytest.approx((70, 60))
    assert all(place.cut != 1 for place in front.closest)
    assert back.refused[0].text == "REFUSED: cut 4, no way in"
    hanger = next(cut for cut in back.cuts if cut.number == 4)
    assert hanger.area.contains(shapely.Point(back.refused[0].at))


def test_numbers_of_cuts_stand_in_their_cut_and_off_pieces(scene):
    for side in Side:
        data = plan_data(scene, side)
        pieces = shapely.union_all([piece.grown for piece in data.pieces])
        for cut in data.cuts:
            spot = shapely.Point(cut.spot)
            assert cut.area.contains(spot)
            assert not pieces.contains(spot)
        spots = [cut.spot for cut in data.cuts]
        assert len(set(spots)) == len(spots)


def test_the_window_holds_everything(refused):
    for side in Side:
        data = plan_data(refused, side)
        window = shapely.box(*data.window)
        things = [data.blank, *(clamp.area for clamp in data.clamps)]
        assert all(window.contains(thing) for thing in things)


def test_separate_feed_paths_are_not_joined(scene):
    program = scene.programs[0]
    places = [
        ((40, 40, -1), (60, 40, -1)),
        ((60, 40, -1), (60, 60, -1)),
        ((90, 90, -1), (95, 90, -1)),
    ]
    moves = MoveTable.of(
        Move(kind=Kind.LINE, start=start, end=end, feed=600) for start, end in places
    )
    one = replace(program, cuts=(replace(program.cuts[0], moves=moves),))
    feeds = plan_data(replace(scene, programs=(one,)), Side.FRONT).feeds
    gap = np.flatnonzero(np.isnan(feeds).any(axis=1))
    assert len(gap) == 1
    assert feeds[gap[0] - 1] == pytest.approx((60, 60))
    assert feeds[gap[0] + 1] == pytest.approx((90, 90))


def test_ledges_tabs_pins_and_what_may_be_cut_are_marked(whole_scene):
    back = plan_data(whole_scene, Side.BACK)
    rim = next(cut for cut in back.cuts if cut.name == "movement")
    assert rim.ledge_depth == 3
    # 90 x 90 with corners of 10 round 70 x 70 with corners of 8.
    corner = 4 - np.pi
    assert rim.ledge.area == pytest.approx(90**2 - 70**2 - corner * (10**2 - 8**2), rel=1e-3)
    assert [p.name for p in back.pins] == ["pin 1", "pin 2", "odd mark"]
    spots = np.array([p.at for p in back.pins])
    assert spots == pytest.approx(np.array([(200, 12), (200, 268), (370, 12)]))
    assert [p.name for p in back.pieces if p.may_cut] == ["star"]


def test_tabs_are_seen_from_their_face(scene):
    program = scene.programs[1]
    view = program.cuts[2]
    tabbed = replace(view, planned=replace(view.planned, tabs=((90.0, 140.0),)))
    other = replace(scene, programs=(replace(program, cuts=(tabbed,)),))
    assert plan_data(other, Side.BACK).cuts[0].tabs == ((310.0, 140.0),)


def test_parts_of_one_cut_keep_their_numbers_apart(scene):
    program = scene.programs[0]
    parts = (program.cuts[0], replace(program.cuts[0], number=9))
    marks = plan_data(replace(scene, programs=(replace(program, cuts=parts),)), Side.FRONT).cuts
    assert [m.number for m in marks] == [1, 9]
    apart = np.hypot(*np.subtract(marks[0].spot, marks[1].spot))
    assert apart >= 9.0


def test_of_many_pieces_those_at_the_cuts_are_named(scene):
    data = plan_data(scene, Side.FRONT)
    assert named_pieces(data) == data.pieces[::-1]
    spots = [shapely.Point(x, 3000.0).buffer(1.0) for x in range(0, 300, 3)]
    far = tuple(replace(data.pieces[0], name="far", nominal=s, grown=s) for s in spots)
    many = replace(data, pieces=(*far, *data.pieces))
    named = named_pieces(many)
    assert len(named) == 40
    assert {piece.name for piece in data.pieces} <= {piece.name for piece in named}
    (label,) = [h.get_label() for h in legend_handles(many) if "as stated" in h.get_label()]
    assert label.endswith(f"40 of {len(many.pieces)} named")


def test_what_follows_a_surface_goes_into_material_once(scene):
    view = next(view for program in scene.programs for view in program.cuts if len(view.moves))
    places = [(100, 100, 5), (100, 100, -1), *((100 + x, 100, -1 - x % 2) for x in range(1, 20))]
    places += [(120, 100, -1), (121, 100, -1.5), (122, 100, -4)]  # at last deeper than before
    moves = MoveTable.of(
        Move(kind=Kind.LINE if n else Kind.RAPID, start=start, end=end, feed=600.0 * bool(n))
        for n, (start, end) in enumerate(pairwise(places))
    )
    program = replace(scene.programs[0], cuts=(replace(view, moves=moves),))
    side = program.face
    seen = plan_data(replace(scene, programs=(program,)), side).entries
    # The rapid ends at Z-1; the first fall is to -2, the last below it.
    x = np.sort(np.abs(seen[:, 0] - seen[0, 0]))
    assert x == pytest.approx([0.0, 20.0])

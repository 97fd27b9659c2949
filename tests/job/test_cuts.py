import math
from collections.abc import Callable

import pytest

from toolpath.job.model import (
    Corners,
    Drill,
    IfBlocked,
    Order,
    Pocket,
    Profile,
    ProfileSide,
    Side,
    Tabs,
)

WORKS = 'job.toml: cut[1] "works": '
HOLE = 'job.toml: cut[2] "spindle hole": '
RING = 'job.toml: cut[3] "minute ring": '
LENGTH = 'give a length such as 6, "6 mm" or "1/4 in"'


def test_cuts(read, clock) -> None:
    works, hole, ring = read(clock).cuts
    assert isinstance(works, Pocket) and isinstance(hole, Drill) and isinstance(ring, Profile)
    assert (works.face, works.depth, works.through) == (Side.BACK, 20.0, False)
    assert works.cutter.name == "flat 6" and works.islands == ()
    assert hole.at == ((100.0, 75.0),)
    assert ring.side is ProfileSide.CENTRE and ring.depth == 1.5


def test_a_through_cut_goes_into_the_spoilboard(read, edited) -> None:
    text = edited(
        ("thickness = 42", "thickness = 42\nthickness_within = 0.3"),
        ("safe_height = 6", "safe_height = 6\nspoilboard = 0.7"),
    )
    hole = read(text).cuts[1]
    assert hole.through and hole.depth == pytest.approx(42 + 0.3 + 0.7)


def test_a_peck_is_the_cutters_diameter_unless_said(read, edited, clock) -> None:
    assert read(clock).cuts[1].peck == 5.0
    assert read(edited(("at = [[100, 75]]", "at = [[100, 75]]\npeck = 2"))).cuts[1].peck == 2.0


def test_defaults(read, clock) -> None:
    for cut in read(clock).cuts:
        assert (cut.smaller, cut.below, cut.through_hard) == ((), 0.0, False)
        assert cut.if_blocked is IfBlocked.STOP
    works, _, ring = read(clock).cuts
    assert (works.ledge, works.finish, ring.tabs, ring.finish) == (None, 0.0, None, 0.0)


def test_an_engaged_angle_is_read_as_radians(read, edited, clock) -> None:
    assert read(clock).cuts[0].engage is None
    said = read(edited(("depth = 20", "depth = 20\nengage = 70"))).cuts[0]
    assert said.engage == pytest.approx(math.radians(70.0))


def test_defaults_may_be_written(read, edited, clock) -> None:
    words = 'finish = 0.0\nbelow = 0\nif_blocked = "stop"\nthrough_hard = false\nthrough = false'
    said = read(edited(("depth = 20", f"depth = 20\n{words}"))).cuts[0]
    plain = read(clock).cuts[0]
    for key in ("finish", "below", "if_blocked", "through_hard", "through", "depth"):
        assert getattr(said, key) == getattr(plain, key)
    hole = "at = [[100, 75]]"
    assert read(edited((hole, f"{hole}\n{words.replace('through = false', '')}"))).cuts[1].through


SMALL = """
[[cutter]]
name = "flat 2"
shape = "flat"
diameter = 2
flutes = 2
flute_length = 8
shank = 1.9
reach = 25
rpm = 20000
feed = 600
plunge = 100
stepdown = 0.5
stepover = 0.4

[[piece]]
name = "cog"
"""


@pytest.fixture
def two(edited) -> Callable[..., str]:
    """The clock with a second flat cutter, 2 mm thick and on a thinner shank."""

    def job(*changes: tuple[str, str]) -> str:
        return edited(('\n[[piece]]\nname = "cog"\n', SMALL), *changes)

    return job


def test_a_pocket_may_name_several_cutters(read, two) -> None:
    works = read(two(('cutter = "flat 6"', 'cutter = ["flat 6", "flat 2"]'))).cuts[0]
    assert works.cutter.name == "flat 6"
    assert [cutter.name for cutter in works.cutters] == ["flat 6", "flat 2"]


def test_a_list_of_one_is_its_cutter(read, edited) -> None:
    hole = read(edited(('cutter = "drill 5"', 'cutter = ["drill 5"]'))).cuts[1]
    assert hole.cutter.name == "drill 5" and hole.smaller == ()


LISTS = [
    ('["flat 2", "flat 6"]',
     'cutter[2]: "flat 6" (6 mm) is not smaller than "flat 2" (2 mm) before it: list them largest '
     "first"),
    ('["flat 6", "flat 6"]',
     'cutter[2]: "flat 6" (6 mm) is not smaller than "flat 6" (6 mm) before it: list them largest '
     "first"),
    ('["flat 6", "flat2"]', 'cutter[2]: no cutter is named "flat2": did you mean "flat 2"?'),
    ('["flat 6", 2]', "cutter[2]: 2 is not a text: give the name of a cutter in quotes"),
    ("[]", "cutter: is an empty list: name a cutter"),
    ('["flat 6", "drill 5"]',
     'cutter: "drill 5" is a drill, which cannot cut sideways: take a flat one'),
]  # fmt: skip


@pytest.mark.parametrize(("names", "line"), LISTS)
def test_lists_of_cutters(faults, two, names: str, line: str) -> None:
    assert faults(two(('cutter = "flat 6"', f"cutter = {names}"))) == [WORKS + line]


def test_every_cutter_must_reach_the_floor(faults, two) -> None:
    lists = ('cutter = "flat 6"', 'cutter = ["flat 6", "flat 2"]')
    assert faults(two(lists, ("depth = 20", "depth = 25.5"))) == [
        f'{WORKS}cutter: "flat 2" reaches 25 mm, less than the 25.5 mm that this cut goes down: '
        "let it stick out more or take a longer one"
    ]
    (line,) = faults(two(lists, ("shank = 1.9", "shank = 2")))
    assert line.startswith(f'{WORKS}cutter: "flat 2" has flutes of 8 mm, less than the 20 mm')


@pytest.mark.parametrize(
    ("old", "cut"), [('cutter = "drill 5"', HOLE), ('cutter = "vee 60"', RING)]
)
def test_only_pockets_take_lists(faults, two, old: str, cut: str) -> None:
    assert faults(two((old, 'cutter = ["flat 6", "flat 2"]'))) == [
        f'{cut}cutter: a list of cutters holds for do = "pocket" and "relief" only: name one cutter'
    ]


@pytest.mark.parametrize("word", ["stop", "rise", "pillar"])
def test_what_a_blocked_pocket_does(read, edited, word: str) -> None:
    job = read(edited(("depth = 20", f'depth = 20\nif_blocked = "{word}"')))
    assert job.cuts[0].if_blocked.value == word


def test_what_else_a_cut_may_say(read, edited) -> None:
    works = read(edited(("depth = 20", "depth = 20\nbelow = 6\nthrough_hard = true"))).cuts[0]
    assert (works.below, works.through_hard) == (6.0, True)


def test_an_allowance_for_a_last_pass(read, edited) -> None:
    assert read(edited(("depth = 20", "depth = 20\nfinish = 0.3"))).cuts[0].finish == 0.3
    ring = edited(('side = "centre"', 'side = "inner"\nfinish = 0.2'))
    assert read(ring).cuts[2].finish == 0.2


def test_an_allowance_must_leave_room(faults, edited) -> None:
    # A slot of 8 mm leaves 1 mm on either side of a 6 mm cutter.
    slot = ("{ rect = [60, 40, 140, 110], corner = 5 }", "{ slot = [60, 60, 90, 60, 8] }")
    assert faults(edited(slot, ("depth = 20", "depth = 20\nfinish = 1.1"))) == [
        f'{WORKS}finish: 1.1 mm on the walls leaves no room for "flat 6" in the outline: '
        "leave less than 1 mm, or take a thinner cutter"
    ]


def test_tabs(read, edited) -> None:
    tabs = "tabs = { count = 3, width = 5, height = 1.4 }"
    ring = read(edited(('side = "centre"', f'side = "outer"\n{tabs}'))).cuts[2]
    assert ring.tabs == Tabs(count=3, width=5.0, height=1.4)


def test_tabs_lie_in_the_thinnest_blank(faults, edited) -> None:
    # 42 - 0.5 = 41.5 mm at the thinnest, of which the cut takes what lies under 2 mm.
    text = edited(
        ("thickness = 42", "thickness = 42\nthickness_within = 0.5"),
        ('side = "centre"\ndepth = 1.5', 'side = "outer"\nthrough = true\nbelow = 2\n'
         "tabs = { count = 3, width = 5, height = 39.5 }"),
        ('cutter = "vee 60"', 'cutter = "flat 6" # too'),
        ("flute_length = 35", "flute_length = 45"),
    )  # fmt: skip
    assert faults(text) == [
        f"{RING}tabs: height: 39.5 mm must be less than the 39.5 mm that this cut takes: make the "
        "tabs lower"
    ]


def test_a_blank_may_be_cut_down_to_its_other_face(read, edited) -> None:
    text = edited(
        ("depth = 20", 'depth = "1.6535433070866143 in"'),
        ("flute_length = 35", "flute_length = 45"),
    )
    assert read(text).cuts[0].depth == pytest.approx(42.0)


POCKET = [
    ("depth = 52",
     "depth: 52 mm is deeper than the blank (42 mm): for a cut right through give through = true "
     "instead"),
    ("", "depth: missing: give the depth below the face, or through = true"),
    ("through = false", "depth: missing: give the depth below the face, or through = true"),
    ("depth = 20\nthrough = true",
     "depth: given together with through = true: leave one of them out"),
    ("depth = 20\nthrough = 1", "through: 1 is not true or false: write through = true or false"),
    ("depth = 0", "depth: 0 mm must be more than 0 mm"),
    ("depth = nan", f"depth: nan is not a finite number: {LENGTH}"),
    ("depth = true", f"depth: true is not a number: {LENGTH}"),
    ("depth = 20\nengage = 14", "engage: 14 degrees must be at least 15 degrees"),
    ("depth = 20\nengage = 121", "engage: 121 degrees must be at most 120 degrees"),
    ("depth = 20\nengage = 20\nfinish = 0.3",
     'finish: 0.3 mm meets more of the rim of "flat 6" than engage lets it: '
     "leave at most 0.181 mm"),
    ("depth = 20\nengage = true",
     "engage: true is not a number: write a plain number, without quotes"),
    ("depth = 20\nfinish = 6",
     'finish: 6 mm must be less than the diameter of "flat 6" (6 mm), which takes it in one pass'),
    ("depth = 20\nfinish = -0.1", "finish: -0.1 mm must be at least 0 mm"),
    ("depth = 20\nbelow = 20",
     "below: 20 mm must be less than the depth of the cut (20 mm): nothing would be left to cut"),
    ("depth = 20\nbelow = -1", "below: -1 mm must be at least 0 mm"),
    ("depth = 20\nthrough_hard = 1",
     "through_hard: 1 is not true or false: write through_hard = true or false"),
    ("depth = 20\ntabs = {}", 'tabs: belongs to do = "profile": leave it out here'),
    ('depth = 20\nif_blocked = "stopp"',
     'if_blocked: "stopp" is not understood: did you mean "stop"?'),
    ('depth = 20\nside = "outer"', 'side: belongs to do = "profile": leave it out here'),
    ("depth = 20\nisland = []", 'island: unknown key: did you mean "islands"?'),
    ("depth = 20\nislands = 3", "islands: 3 is not an array: give an array of shapes"),
]  # fmt: skip


@pytest.mark.parametrize(("depth", "line"), POCKET)
def test_faults_of_a_pocket(faults, edited, depth: str, line: str) -> None:
    assert faults(edited(("depth = 20", depth))) == [WORKS + line]


CUTTERS = [
    ('cutter = "flat 6"', "", f"{WORKS}cutter: missing: give the name of a cutter"),
    ('cutter = "flat 6"', 'cutter = "flat6"',
     f'{WORKS}cutter: no cutter is named "flat6": did you mean "flat 6"?'),
    ('cutter = "flat 6"', 'cutter = "vee 60"',
     f'{WORKS}cutter: not yet: do = "pocket" with a vee cutter ("vee 60") comes with a later '
     "version; use one of shape flat"),
    ('cutter = "flat 6"', 'cutter = "drill 5"',
     f'{WORKS}cutter: "drill 5" is a drill, which cannot cut sideways: take a flat one'),
    ('cutter = "drill 5"', 'cutter = "vee 60"',
     f'{HOLE}cutter: not yet: do = "drill" with a vee cutter ("vee 60") comes with a later '
     "version; use one of shape drill or flat"),
    ('cutter = "vee 60"', 'cutter = "drill 5"',
     f'{RING}cutter: "drill 5" is a drill, which cannot cut sideways: take a flat one'),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line"), CUTTERS)
def test_cutters_that_do_not_fit_the_cut(faults, edited, old: str, new: str, line: str) -> None:
    assert faults(edited((old, new))) == [line]


DRILL = [
    ("at = []", "at: has no holes: give at least one [x, y]"),
    ("at = 7", "at: 7 is not an array: give the holes, [[x, y], …]"),
    ("", "at: missing: give the holes, [[x, y], …]"),
    ("at = [[100, 75], [1]]", "at[2]: 1 value where [x, y] should stand: 2 lengths"),
    ("at = [100, 75]", "at[1]: 100 where [x, y] should stand: 2 lengths"),
    ("at = [[100, 75]]\npeck = 0", "peck: 0 mm must be more than 0 mm"),
    ("at = [[100, 75]]\ndiameter = 4",
     'diameter: 4 mm is narrower than the cutter "drill 5" (5 mm): take a thinner cutter'),
    ("at = [[100, 75]]\nfinish = 0.2",
     'finish: does not hold for do = "drill", which leaves nothing: leave it out'),
    ("at = [[100, 75]]\npattern = 1", 'pattern: unknown key: did you mean "cutter"?'),
    ('at = [[100, 75]]\nif_blocked = "rise"',
     'if_blocked: "rise" does not hold for do = "drill": use "stop"'),
    ("at = [[100, 75]]\nislands = []", 'islands: belongs to do = "pocket": leave it out here'),
]  # fmt: skip


@pytest.mark.parametrize(("at", "line"), DRILL)
def test_faults_of_a_drill_cut(faults, edited, at: str, line: str) -> None:
    lines = faults(edited(("at = [[100, 75]]", at)))
    if line.startswith("at[1]: 100"):
        assert lines.pop() == f"{HOLE}at[2]: 75 where [x, y] should stand: 2 lengths"
    assert lines == [HOLE + line]


def test_a_drill_cut_may_state_its_diameter(read, edited) -> None:
    assert read(edited(("at = [[100, 75]]", 'at = [[100, 75]]\ndiameter = "5 mm"')))


PROFILE = [
    ('side = "centre"', "", "side: missing: give one of outer, inner, centre"),
    ('side = "centre"', 'side = "center"',
     'side: "center" is not understood: did you mean "centre"?'),
    ('side = "centre"', 'side = "outer"\ntabs = { count = 3, width = 5, height = 1.5 }',
     "tabs: height: 1.5 mm must be less than the 1.5 mm that this cut takes: make the tabs lower"),
    ('side = "centre"', 'side = "outer"\ntabs = { count = 0, width = 5, height = 1 }',
     "tabs: count: 0 must be a whole number from 1 to 100"),
    ('side = "centre"', 'side = "outer"\ntabs = { count = 3, width = 0, height = 1 }',
     "tabs: width: 0 mm must be more than 0 mm"),
    ('side = "centre"', 'side = "outer"\ntabs = 3',
     "tabs: 3 is not a table: write tabs = { … }"),
    ('side = "centre"', 'side = "centre"\nfinish = 0.2',
     'finish: holds for side = "outer" and "inner" only: leave it out'),
    ('side = "centre"', 'side = "outer"\nfinish = 8',
     'finish: 8 mm must be less than the diameter of "vee 60" (8 mm), which takes it in one pass'),
    ('side = "centre"', 'side = "outer"\nif_blocked = "pillar"',
     'if_blocked: "pillar" does not hold for do = "profile": use "stop"'),
    ('do = "profile"', 'do = "profil"', 'do: "profil" is not understood: did you mean "profile"?'),
    ('do = "profile"', "", "do: missing: give one of pocket, profile, drill, face, relief"),
    *(
        ('do = "profile"', f'do = "{word}"',
         f'do: not yet: "{word}" comes with a later version; use "pocket", "profile", "drill", '
         '"face", "relief"')
        for word in ("edge", "engrave")
    ),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line"), PROFILE)
def test_faults_of_a_profile(faults, edited, old: str, new: str, line: str) -> None:
    assert faults(edited((old, new))) == [RING + line]


@pytest.mark.parametrize("side", ["outer", "inner", "centre"])
def test_profiles_run_on_any_side(read, edited, side: str) -> None:
    cut = read(edited(('side = "centre"', f'side = "{side}"'))).cuts[2]
    assert cut.side.value == side
    assert cut.outline[0].area == pytest.approx(math.pi * 3600)


def test_what_is_left_for_the_end(read, edited, faults) -> None:
    def works(words):
        return edited(("depth = 20", f"depth = 20\n{words}"))

    words = 'finish = 0.2\nfinish_floor = 0.3\nspring_passes = 2\ninside_corners = "over-cut"'
    cut = read(works(f"{words}\nclear_chips = 4")).cuts[0]
    assert (cut.finish_floor, cut.spring_passes, cut.corners) == (0.3, 2, Corners.OVER_CUT)
    assert cut.clear_chips == 240.0
    plain = read(works("")).cuts[0]
    assert (plain.finish_floor, plain.spring_passes, plain.corners) == (0.0, 0, Corners.ROUND)
    assert plain.clear_chips == 0.0
    (fault,) = faults(works("spring_passes = 1"))
    assert fault.startswith(WORKS + "spring_passes: ") and "finish" in fault
    (fault,) = faults(works("finish_floor = 9"))
    assert fault.startswith(WORKS + "finish_floor: 9 mm must be less than the stepdown of")
    (fault,) = faults(works('inside_corners = "square"'))
    assert "round" in fault and "over-cut" in fault


def test_the_order_of_the_cuts(read, edited, clock) -> None:
    assert read(clock).order is Order.BEST
    as_written = edited(('units = "mm"', 'units = "mm"\norder = "as written"'))
    assert read(as_written).order is Order.AS_WRITTEN

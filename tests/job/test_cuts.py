import math

import pytest

from toolpath.job.model import Drill, Pocket, Profile, ProfileSide, Side

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


def test_keys_for_later_may_stand_at_their_defaults(read, edited) -> None:
    words = 'finish = 0.0\nbelow = 0\nif_blocked = "stop"\nthrough_hard = false\nthrough = false'
    assert read(edited(("depth = 20", f"depth = 20\n{words}"))).cuts[0].depth == 20.0


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
    ("depth = 20\nfinish = 0.3", "finish: not yet: 0.3 comes with a later version; use 0"),
    ("depth = 20\nbelow = 2", "below: not yet: 2 comes with a later version; use 0"),
    ("depth = 20\nengage = 70",
     "engage: not yet: this key comes with a later version; leave it out"),
    ("depth = 20\nledge = { width = 3, depth = 2 }",
     "ledge: not yet: this key comes with a later version; leave it out"),
    ("depth = 20\nthrough_hard = true",
     "through_hard: not yet: true comes with a later version; use false"),
    ('depth = 20\nif_blocked = "rise"',
     'if_blocked: not yet: "rise" comes with a later version; use "stop"'),
    ('depth = 20\nif_blocked = "pillar"',
     'if_blocked: not yet: "pillar" comes with a later version; use "stop"'),
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
    ('cutter = "flat 6"', 'cutter = ["flat 6", "vee 60"]',
     f"{WORKS}cutter: not yet: a list of cutters comes with a later version; name one"),
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
    ("at = { ring = 6 }",
     "at: not yet: patterns of holes come with a later version; list the points"),
    ("at = [[100, 75]]\npattern = 1",
     "pattern: not yet: this key comes with a later version; leave it out"),
    ("at = [[100, 75]]\npeck = 0", "peck: 0 mm must be more than 0 mm"),
    ("at = [[100, 75]]\ndiameter = 8",
     "diameter: not yet: holes of 8 mm with a cutter of 5 mm come with a later version; "
     "take a cutter of that diameter, or a pocket"),
    ("at = [[100, 75]]\ndiameter = 4",
     'diameter: 4 mm is narrower than the cutter "drill 5" (5 mm): take a thinner cutter'),
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
    ('side = "centre"', 'side = "outer"\ntabs = { count = 3, width = 5, height = 2 }',
     "tabs: not yet: this key comes with a later version; leave it out"),
    ('side = "centre"', 'side = "outer"\nif_blocked = "pillar"',
     'if_blocked: "pillar" does not hold for do = "profile": use "stop"'),
    ('do = "profile"', 'do = "profil"', 'do: "profil" is not understood: did you mean "profile"?'),
    ('do = "profile"', "", "do: missing: give one of pocket, profile, drill"),
    *(
        ('do = "profile"', f'do = "{word}"',
         f'do: not yet: "{word}" comes with a later version; use "pocket", "profile", "drill"')
        for word in ("face", "relief", "edge", "engrave")
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

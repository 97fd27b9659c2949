import pytest

WHERE = "job.toml: plate[1]: screws: "
# A drill of 2.5 mm with a point of 90 degrees, 1.25 mm long.
TAIL = """
[[cutter]]
name = "drill 2.5"
shape = "drill"
angle = 90
diameter = 2.5
flutes = 2
flute_length = 25
reach = 30
rpm = 2000
feed = 150
plunge = 100

[[cutter]]
name = "flat 2"
shape = "flat"
diameter = 2
flutes = 2
flute_length = 8
reach = 25
rpm = 20000
feed = 600
plunge = 100
stepdown = 0.5
stepover = 0.4

[[plate]]
for = "works"
cutter = "flat 2"
stock = { size = [130, 120], thickness = 3 }
screws = { diameter = 2.9, count = 4, pilot = "drill 2.5", depth = 9 }
"""


@pytest.fixture
def screwed(edited):
    """The clock with a plate on four screws, texts exchanged in the plate and its cutters."""

    def job(*changes: tuple[str, str]) -> str:
        ledge = ("depth = 20", "depth = 20\nledge = { width = 12, depth = 3 }")
        return edited(ledge) + edited(*changes, text=TAIL)

    return job


def test_defaults(read, screwed) -> None:
    screws = read(screwed()).plates[0].screws
    assert (screws.diameter, screws.count, screws.at) == (2.9, 4, ())
    assert (screws.pilot.name, screws.depth, screws.hole) == ("drill 2.5", 9.0, None)
    assert (screws.edge, screws.slack) == (5.8, 0.5)


def test_everything_said(read, screwed) -> None:
    at = 'at = [[54, 75], [146, 75]], edge = 4, slack = 0.4, hole = "flat 2"'
    screws = read(screwed(("count = 4", at))).plates[0].screws
    assert (screws.count, screws.at) == (0, ((54.0, 75.0), (146.0, 75.0)))
    assert (screws.edge, screws.slack, screws.hole.name) == (4.0, 0.4, "flat 2")


def test_a_drill_as_wide_as_the_holes_makes_them(read, screwed) -> None:
    hole = ("depth = 9", 'depth = 9, slack = 2.1, hole = "drill 5"')
    assert read(screwed(hole)).plates[0].screws.hole.name == "drill 5"


SCREWS = [
    ("count = 4, ", "", "count: missing: give how many screws, or at with their places"),
    ("count = 4", "count = 4, at = [[54, 75]]",
     "count: given together with at: leave one of them out"),
    ("count = 4", "count = 101", "count: 101 must be a whole number from 1 to 100"),
    ("count = 4", "at = []", "at: has no holes: give at least one [x, y]"),
    ("diameter = 2.9", "diameter = 2.5",
     'pilot: "drill 2.5" (2.5 mm) is not thinner than the screw (2.5 mm), which would not hold: '
     "take a thinner one"),
    ('pilot = "drill 2.5"', 'pilot = "vee 60"',
     'pilot: "vee 60" is a vee cutter: take a drill or a flat one'),
    ('pilot = "drill 2.5"', 'pilot = "drill 2"',
     'pilot: no cutter is named "drill 2": did you mean "drill 2.5"?'),
    ("depth = 9", "depth = 9, edge = 1.7",
     "edge: 1.7 mm from the middle of a screw leaves nothing beside its hole of 3.4 mm: give more "
     "than 1.7 mm"),
    # 3 of ledge, 26 of pilot and a point of 1.25 mm.
    ("depth = 9", "depth = 26",
     'pilot: "drill 2.5" reaches 30 mm, less than the 30.25 mm that this cut goes down (its point '
     "takes 1.25 mm of it): let it stick out more or take a longer one"),
    ("depth = 9", 'depth = 9, hole = "flat 6"',
     'hole: "flat 6" (6 mm) is wider than the holes of 3.4 mm: name a thinner one'),
    ("depth = 9", 'depth = 9, hole = "drill 2.5"',
     'hole: "drill 2.5" (2.5 mm) is a drill cutter, which cannot widen a hole to 3.4 mm: name a '
     "drill of that diameter or a thinner flat cutter"),
    ("depth = 9", 'depth = 9, hole = "flat"', 'hole: no cutter is named "flat": did you mean '),
    ('cutter = "flat 2"', 'cutter = "flat 6"',
     'hole: no cutter is named, and the plate\'s own, "flat 6" (6 mm), is wider than the holes of '
     "3.4 mm: name a thinner one"),
    ("depth = 9", "depth = 9, lenght = 3", "lenght: unknown key: "),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line"), SCREWS)
def test_screws_that_are_wrong(faults, screwed, old: str, new: str, line: str) -> None:
    (told,) = faults(screwed((old, new)))
    assert told.startswith(WHERE + line)


def test_pilots_stay_in_the_thinnest_blank(read, faults, screwed) -> None:
    # 3 of ledge, 37.7 of pilot and a point of 1.25 mm end 0.05 mm above the back of 42 mm.
    long = ("flute_length = 25\nreach = 30", "flute_length = 45\nreach = 50")
    assert read(screwed(long, ("depth = 9", "depth = 37.7")))
    text = screwed(long, ("depth = 9", "depth = 37.7"))
    assert faults(text.replace("thickness = 42", "thickness = 42\nthickness_within = 0.1")) == [
        f"{WHERE}depth: ledge, pilot and the point of its cutter go 41.95 mm down, and the blank "
        "may be as thin as 41.9 mm: use shorter screws"
    ]


@pytest.mark.parametrize(("face", "told"), [("front", 1), ("back", 0)])
def test_pilots_stay_in_what_the_skims_of_the_other_face_leave(
    read, faults, screwed, face: str, told: int
) -> None:
    # 41.95 down as above; the ledge is in the back, and 42 mm less 0.5 off the front leave 41.5.
    # What comes off the back itself changes nothing: depths are from the face as it was.
    skim = f'''
[[cut]]
name = "skim"
face = "{face}"
do = "face"
depth = 0.5
cutter = "flat 6"
'''
    long = ("flute_length = 25\nreach = 30", "flute_length = 45\nreach = 50")
    head, tail = screwed(long, ("depth = 9", "depth = 37.7")).split("[[cut]]", 1)
    text = head + skim.lstrip() + "\n[[cut]]" + tail
    found = [
        f"{WHERE}depth: ledge, pilot and the point of its cutter go 41.95 mm down, and the blank "
        "may be as thin as 41.5 mm once its other face is skimmed: use shorter screws"
    ]
    if told:
        assert faults(text) == found
    else:
        assert read(text)

import pytest

from toolpath.job.model import MARK, PINS, Drill, Side

WHERE = "job.toml: pins: "
# The turning line of the clock's blank of 200 by 150 mm: x = 100, or y = 75.
FACE = 'name = "spindle hole"\nface = "front"'


@pytest.fixture
def pinned(edited):
    """The clock with pins. The groove of its minute ring is 60 mm from the middle and at the face
    0.1 + 1.5 tan 30 degrees = 0.97 mm to either side, the pins are 65 mm from it."""

    def job(pins: str = "", *changes: tuple[str, str]) -> str:
        return edited(*changes) + f'\n[pins]\ncutter = "drill 5"\n{pins}\n'

    return job


def test_defaults(read, pinned) -> None:
    job = read(pinned("board = 5"))
    assert job.pins.diameter == 5.0
    assert job.pins.at == ((100.0, 10.0), (100.0, 140.0))
    assert job.pins.mark == (85.0, 10.0)
    pins, mark, *rest = job.cuts
    assert [cut.name for cut in rest] == ["works", "spindle hole", "minute ring"]
    assert isinstance(pins, Drill) and isinstance(mark, Drill)
    assert (pins.name, pins.face, pins.through, pins.pins) == (PINS, Side.BACK, True, True)
    assert (pins.at, pins.depth, pins.peck) == (job.pins.at, 47.0, 5.0)
    assert (mark.name, mark.face, mark.through, mark.pins) == (MARK, Side.BACK, False, False)
    assert (mark.at, mark.depth) == (((85.0, 10.0),), 2.0)


def test_pins_go_through_the_thickest_blank(read, pinned) -> None:
    job = read(pinned("board = 4", ("thickness = 42", "thickness = 42\nthickness_within = 0.5")))
    assert job.cuts[0].depth == 46.5


def test_a_blank_turned_top_to_bottom(read, pinned) -> None:
    turn = ("thickness = 42", 'thickness = 42\nturn_over = "top-bottom"')
    pins = read(pinned("board = 2\ninset = 12", turn)).pins
    assert pins.at == ((12.0, 75.0), (188.0, 75.0)) and pins.mark == (12.0, 60.0)


def test_the_inset_is_measured_from_the_edge_of_the_blank(read, pinned) -> None:
    # A blank with a notch at the bottom of its turning line, 8 mm deep.
    notch = (
        "outline = { rect = [0, 0, 200, 150] }",
        "outline = { polygon = [[0, 0], [80, 0], [80, 8], [120, 8], [120, 0], [200, 0], "
        "[200, 158], [0, 158]] }",
    )
    small = ("{ circle = [100, 75, 60] }", "{ circle = [100, 75, 50] }")
    assert read(pinned("board = 2\nmark = [40, 20]", notch, small)).pins.at == (
        (100.0, 18.0), (100.0, 148.0),
    )  # fmt: skip


def test_pins_where_the_job_says(read, pinned) -> None:
    text = pinned("board = 2\nat = [[100, 9], [100, 141.005]]\nmark = [180, 140]")
    assert read(text).pins.at == ((100.0, 9.0), (100.0, 141.005))
    assert read(text).pins.mark == (180.0, 140.0)


def test_wide_pins_are_bored(read, pinned) -> None:
    text = pinned("board = 2\ninset = 8\ndiameter = 8", ("flute_length = 35", "flute_length = 45"))
    job = read(text.replace('[pins]\ncutter = "drill 5"', '[pins]\ncutter = "flat 6"'))
    assert job.pins.diameter == 8.0 and job.cuts[0].bored


CUTTER = [
    ("", 'cutter: "drill 5" has flutes of 50 mm, less than the 52.5 mm that this cut goes down '
     "(its point takes 2.5 mm of it), and its shank is no thinner than they are: take longer "
     "flutes or a thinner shank"),
    ("board = 11", 'cutter: "drill 5" reaches 55 mm, less than the 55.5 mm'),
    ("board = -0.1", "board: -0.1 mm must be at least 0 mm"),
    ("board = 2\ndiameter = 4", 'diameter: 4 mm is narrower than the cutter "drill 5" (5 mm)'),
    ("board = 2\ndiameter = 6", 'cutter: "drill 5" (5 mm) is a drill, which cannot cut sideways'),
    ("board = 2\ninset = 75", "inset: 75 mm from both edges leaves no line between the pins: "),
    ("board = 2\ninset = 0", "inset: 0 mm must be more than 0 mm"),
    ("board = 2\nat = [[100, 9]]",
     "at: has 1 pins: give two, at the far ends of the blank"),
    ("board = 2\nat = [[100, 9], [100.02, 141]]",
     "at[2]: lies 0.02 mm off the turning line, x = 100 mm: put it on the line, or it will not "
     "meet its hole after turning over"),
    ("board = 2\nat = [[100, 9], [100, 141]]\ninset = 9",
     "inset: given together with at: leave one of them out"),
    ("board = 2\nat = [[100, 1], [100, 141]]\nmark = [85, 9]",
     "at[1]: the hole of 5 mm at x = 100 mm, y = 1 mm reaches 1.5 mm past the edge of the blank"),
    ("board = 2\nmark = [104.9, 9]",
     "mark: lies 4.9 mm from the turning line, x = 100 mm, where it shows no wrong turn: put it "
     "at least 5 mm off"),
    # The pocket ends at y = 110; a pin's middle needs 2.5 mm and the clearance of 1 mm.
    ("board = 2\nat = [[100, 9], [100, 113.4]]",
     'at[2]: the hole at x = 100 mm, y = 113.4 mm lies in or too near the cut "works": its middle '
     "needs 3.5 mm, and has 3.4 mm; move it"),
    ("board = 2\nmark = [-1, 9]", "mark: x = -1 mm, y = 9 mm lies 1 mm outside the blank: move it"),
    ("board = 2\nholes = 3", "holes: unknown key: "),
]  # fmt: skip


@pytest.mark.parametrize(("pins", "line"), CUTTER)
def test_pins_that_are_wrong(faults, pinned, pins: str, line: str) -> None:
    (told,) = faults(pinned(pins))
    assert told.startswith(WHERE + line)


def test_pins_keep_out_of_what_an_outer_profile_leaves_standing(read, faults, pinned) -> None:
    # Round a circle of 57 the ring's cutter of 8 mm takes up to 65 mm, round one of 53 up to 61.
    outer = ('side = "centre"', 'side = "outer"')
    lines = faults(pinned("board = 2", outer, ("[100, 75, 60]", "[100, 75, 57]")))
    assert len(lines) == 2  # what the inset does to both pins, and the mark
    assert 'y = 10 mm lies in or too near the cut "minute ring": its middle needs' in lines[0]
    assert read(pinned("board = 2", outer, ("[100, 75, 60]", "[100, 75, 53]")))


SKIM = """
[[cut]]
name = "level"
face = "{face}"
do = "face"
depth = {depth}
cutter = "flat 6"
"""


@pytest.mark.parametrize(("face", "mark"), [("back", 3.5), ("front", 2.0)])
def test_pins_stand_in_what_is_skimmed_and_the_mark_stays(read, pinned, face, mark) -> None:
    # The back is cut first: the mark is still 2 mm deep once 1.5 mm are skimmed from it.
    job = read(pinned("board = 5") + SKIM.format(face=face, depth=1.5))
    assert job.skimmed(Side(face)) == 1.5
    assert (job.cuts[0].depth, job.cuts[1].depth) == (47.0, mark)


def test_a_pin_stands_under_no_clamp_of_its_face(read, faults, pinned) -> None:
    clamp = "{ rect = [-20, 60, 8, 90] }"
    over = "{ rect = [90, -20, 110, 12] }"
    assert read(pinned("board = 2", (clamp, over)))  # while the other face is up
    (line,) = faults(pinned("board = 2", ('face = "front"\noutline', 'face = "back"\noutline'),
                            (clamp, over)))  # fmt: skip
    assert line.startswith(
        f"{WHERE}inset: the hole at x = 100 mm, y = 10 mm lies in or too near clamp 1: its middle "
        "needs 3.5 mm, and has 0 mm"
    )


def test_pins_need_a_second_face(faults, pinned) -> None:
    text = pinned("board = 2", ('name = "works"\nface = "back"', 'name = "works"\nface = "front"'))
    assert faults(text) == [
        "job.toml: pins: pins need a second face: all cuts are made from one, so leave [pins] out"
    ]


def test_a_cut_may_not_be_called_like_the_pins(faults, pinned) -> None:
    (line,) = faults(pinned("board = 2", ('name = "works"', f'name = "{MARK}"')))
    assert line == f'{WHERE[:-2]}: "{MARK}" is the name of a cut of the job: rename that cut'


def test_pins_tell_nothing_of_the_faults_of_cuts(faults, pinned) -> None:
    (line,) = faults(pinned("board = 2", ("depth = 20", "depth = 52")))
    assert "deeper than the blank" in line

"""Skims as a job file says them; depths by sums that anybody can do (thickness less what stays)."""

import math

import pytest

from toolpath.blank.found import found_job
from toolpath.job.model import Side, Skim, SkimWay, Surface

SKIM = """
[[cut]]
name = "skim"
face = "back"
do = "face"
{}
cutter = "flat 6"
"""
FRONT = SKIM.replace('"skim"', '"front skim"').replace('"back"', '"front"')


@pytest.fixture
def first(clock):
    """The clock with a skim as its first cut."""

    def text(keys: str, skim: str = SKIM) -> str:
        head, tail = clock.split("[[cut]]", 1)
        return head + skim.format(keys).lstrip() + "\n[[cut]]" + tail

    return text


@pytest.fixture
def last(clock):
    def text(keys: str, skim: str = SKIM) -> str:
        return clock + skim.format(keys)

    return text


def skim_of(job) -> Skim:
    (cut,) = [cut for cut in job.cuts if isinstance(cut, Skim)]
    return cut


def test_what_it_says(read, first) -> None:
    cut = skim_of(
        read(first('depth = 0.8\nway = "spiral"\nalong = 30\nbeyond = 2\nleast_cover = 1.5'))
    )
    assert (cut.depth, cut.way, cut.beyond, cut.least_cover) == (0.8, SkimWay.SPIRAL, 2.0, 1.5)
    assert cut.along == pytest.approx(math.pi / 6)
    assert (cut.face, cut.thickness, cut.through) == (Side.BACK, 0.0, False)


def test_what_it_leaves_out(read, first) -> None:
    cut = skim_of(read(first("depth = 0.8")))
    assert (cut.way, cut.along, cut.beyond, cut.least_cover) == (SkimWay.ZIGZAG, 0.0, 1.0, 0.0)


def test_a_thickness_is_what_stays(read, first) -> None:
    assert skim_of(read(first("thickness = 40.5"))).depth == pytest.approx(42 - 40.5)


def test_what_the_other_face_lost_counts(read, clock) -> None:
    # The clock's first face is the back, 42 mm thick: 1 off it, 40 to stay, so 1 off the front.
    head, tail = clock.split("[[cut]]", 1)
    text = head + SKIM.format("depth = 1").lstrip() + FRONT.format("thickness = 40")
    job = read(text + "\n[[cut]]" + tail)
    assert [cut.depth for cut in job.cuts if isinstance(cut, Skim)] == [1.0, 1.0]
    assert (job.skimmed(Side.BACK), job.skimmed(Side.FRONT)) == (1.0, 1.0)
    # The spindle hole goes through from the front: the board lies 1 mm nearer (42 + 0.5 - 1).
    through = next(cut for cut in job.cuts if cut.through)
    assert through.depth == pytest.approx(41.5)


def test_a_thickness_follows_what_was_measured(read, clock) -> None:
    # 40.8 mm found once 1 mm was off the back: 41.8 before it, so 0.8 stays to be taken.
    head, tail = clock.split("[[cut]]", 1)
    text = "measured = { size = [200, 150], thickness = 40.8 }\n" + head
    text += SKIM.format("depth = 1").lstrip() + FRONT.format("thickness = 40")
    found = found_job(read(text + "\n[[cut]]" + tail))
    assert found.blank.thickness == pytest.approx(41.8)
    depths = {cut.name: cut.depth for cut in found.cuts if isinstance(cut, Skim)}
    assert depths == {"skim": 1.0, "front skim": pytest.approx(0.8)}


FAULTS = [
    ("", "depth: give depth, or thickness: what is left of the blank after it"),
    ("depth = 1\nthickness = 40", "depth: give depth, or thickness: what is left of the blank"),
    ("depth = 42", "depth: 42 mm must be less than the blank (42 mm)"),
    ("thickness = 42", "thickness: 42 mm leaves nothing to skim from a blank of 42 mm"),
    ("depth = 1\nbeyond = 0.5", "beyond: 0.5 mm must be at least 0.6 mm"),
    ("depth = 1\nway = \"rings\"", 'way: "rings" is not understood: known are zigzag, spiral'),
    ("depth = 1\nthrough = true", 'through: belongs to do = "pocket": leave it out here'),
    ("depth = 1\noutline = { circle = [1, 1, 1] }",
     'outline: belongs to do = "pocket": leave it out here'),
]  # fmt: skip


@pytest.mark.parametrize(("keys", "told"), FAULTS)
def test_faults(faults, first, keys, told) -> None:
    (line,) = faults(first(keys))
    assert line.startswith(f'job.toml: cut[1] "skim": {told}')


def test_only_a_flat_cutter(faults, first) -> None:
    (line,) = faults(first("depth = 1").replace('cutter = "flat 6"', 'cutter = "vee 60"', 1))
    assert 'do = "face" with a vee cutter' in line


NINE = "[[0, 0, 0.1], [200, 0, 0], [0, 150, -0.2]]"


def test_a_measured_face(read, first) -> None:
    text = first("depth = 0.8").replace("[machine]", f"[face.back]\nsurface = {NINE}\n\n[machine]")
    surface = read(text).surfaces[Side.BACK]
    assert surface == Surface(
        places=((0.0, 0.0), (200.0, 0.0), (0.0, 150.0)), heights=(0.1, 0.0, -0.2)
    )
    assert surface.highest == 0.1
    assert Surface(places=surface.places, heights=(-1.0, -2.0, -3.0)).highest == 0.0


SURFACES = [
    ("[[0, 0, 0], [200, 0, 0]]", "surface: 2 places, in a line or nearly"),
    ("[[0, 0, 0], [100, 75, 0], [200, 150, 0]]", "surface: 3 places, in a line or nearly"),
    ("[[0, 0, 0], [200, 0], [0, 150, 0]]", "surface[2]: "),
    ("[[0, 0, 5.1], [200, 0, 0], [0, 150, 0]]",
     "surface: 5.1 mm above Z 0 at its highest, and rapids cross at 6 mm: touch off on the highest "
     "place, or raise [machine] safe_height"),
]  # fmt: skip


@pytest.mark.parametrize(("surface", "told"), SURFACES)
def test_measured_faces_that_are_wrong(faults, first, surface, told) -> None:
    lines = faults(
        first("depth = 0.8").replace("[machine]", f"[face.back]\nsurface = {surface}\n\n[machine]")
    )
    assert any(f"face: back: {told}" in line for line in lines), lines


def test_a_face_that_stands_up_is_skimmed_first(faults, read, last, first) -> None:
    high = "[face.back]\nsurface = [[0, 0, 0.9], [200, 0, 0], [0, 150, 0]]\n\n[machine]"
    (line,) = faults(last("depth = 1.5").replace("[machine]", high))
    assert "skim the face first" in line
    assert read(first("depth = 1.5").replace("[machine]", high))


def test_tabs_are_lower_than_what_the_skims_leave(faults, read, clock) -> None:
    # 42 mm, 1 off the back and 1 off the front: 40 stay.
    rim = """
[[cut]]
name = "rim"
face = "front"
do = "profile"
side = "outer"
outline = {{ rect = [20, 20, 180, 130] }}
through = true
tabs = {{ count = 4, width = 8, height = {} }}
cutter = "flat 6"
"""
    head, tail = clock.split("[[cut]]", 1)
    text = head + SKIM.format("depth = 1").lstrip() + FRONT.format("depth = 1")
    text += "\n[[cut]]" + tail
    for short, long in (("flute_length = 35", "flute_length = 45"), ("reach = 45", "reach = 55")):
        text = text.replace(short, long, 1)
    assert read(text + rim.format(39.5)).cuts[-1].tabs.height == 39.5
    (line,) = faults(text + rim.format(40))
    assert line.endswith(
        "tabs: height: 40 mm must be less than the 40 mm that this cut takes of the thinnest "
        "blank once its faces are skimmed: make the tabs lower, or skim less"
    )

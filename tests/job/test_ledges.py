import math

import numpy as np
import pytest
import shapely

from toolpath.drawing.outline import Err, Loop, Region
from toolpath.drawing.shapes import circle, polygon, rect, slot
from toolpath.job.ledges import moved_out

WORKS = 'job.toml: cut[1] "works": '
RECT = "{ rect = [60, 40, 140, 110], corner = 5 }"


def one(outline):
    (region,) = outline
    return region


def test_a_ledge_of_a_width_keeps_true_arcs() -> None:
    # By Steiner's formula a convex outline gains perimeter times width and pi width squared.
    for shape, turned in (
        (rect(0, 0, 80, 60), 8),
        (rect(0, 0, 80, 60, 5), 8),
        (circle(40, 30, 20), 2),
        (slot(0, 0, 30, 10, 12), 4),
        (polygon([(0, 0), (50, 0), (10, 40)]), 6),
    ):
        moved = one(moved_out((shape,), 8.0))
        expected = shape.area + 8.0 * shape.outer.length + math.pi * 64.0
        assert moved.area == pytest.approx(expected, rel=1e-12)
        assert moved.outer.error == 0.0 and len(moved.outer.points) == turned


def test_inward_arcs_stay_arcs_where_they_are_wide_enough() -> None:
    # A half circle of radius 20 cut out of a side of 80: moved out by 8 its radius is 12.
    rows = [(0, 0, 0), (80, 0, 0), (80, 60, 0), (60, 60, -1), (20, 60, 0), (0, 60, 0)]
    shape = Region(outer=Loop(points=np.array(rows, dtype=float)))
    moved = one(moved_out((shape,), 8.0))
    assert moved.outer.error == 0.0 and (moved.outer.points[:, 2] == -1.0).sum() == 1
    # Steiner's formula holds for every curve that turns once and is nowhere tighter.
    expected = 80 * 60 - 200 * math.pi + 8 * (200 + 20 * math.pi + 40) + 64 * math.pi
    assert moved.area == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    "shape",
    [
        polygon([(0, 0), (80, 0), (80, 30), (30, 30), (30, 70), (0, 70)]),
        polygon([(0, 0), (60, 0), (60, 50), (35, 50), (30, 20), (25, 50), (0, 50)]),
        Region(
            outer=rect(0, 0, 80, 60, 10).outer,
            holes=(circle(40, 30, 20).outer,),
        ),
        Region(
            outer=Loop(
                points=np.array(
                    [(0, 0, 0), (80, 0, 0), (80, 60, 0.0), (50, 60, -1), (30, 60, 0), (0, 60, 0)],
                    dtype=float,
                )
            )
        ),
    ],
    ids=["ell", "notch", "ring", "bay"],
)
def test_a_ledge_lies_within_the_true_one_and_hardly_less(shape: Region) -> None:
    width = 6.0
    outline = moved_out((shape,), width)
    error = max(loop.error for region in outline for loop in (region.outer, *region.holes))
    assert error <= 0.0016
    found = shapely.union_all([region.polygon(0.0001, Err.INWARD) for region in outline])
    pocket = shape.polygon(0.00001, Err.OUTWARD)
    edge = shapely.get_coordinates(shapely.segmentize(shapely.boundary(found), 0.5))
    far = shapely.distance(pocket, shapely.points(edge))
    assert far.max() <= width + 1e-6  # never grows
    assert far.min() >= width - 3.0 * error - 0.001


def test_a_hole_that_closes_is_gone() -> None:
    ring = Region(outer=rect(0, 0, 80, 60).outer, holes=(circle(40, 30, 5).outer,))
    assert one(moved_out((ring,), 6.0)).holes == ()
    assert len(one(moved_out((ring,), 4.0)).holes) == 1


def test_parts_that_meet_are_one() -> None:
    two = (rect(0, 0, 20, 20), rect(30, 0, 50, 20))
    assert len(moved_out(two, 4.0)) == 2
    assert len(moved_out(two, 6.0)) == 1


def test_the_error_of_a_drawing_is_kept() -> None:
    loop = Loop(points=rect(0, 0, 80, 60).outer.points, error=0.002)
    assert one(moved_out((Region(outer=loop),), 6.0)).outer.error >= 0.002


def test_a_ledge_by_its_width(read, edited) -> None:
    ledge = (
        read(edited(("depth = 20", "depth = 20\nledge = { width = 8, depth = 3 }"))).cuts[0].ledge
    )
    assert ledge.depth == 3.0
    assert one(ledge.outline).area == pytest.approx(
        80 * 70 - (4 - math.pi) * 25 + 8 * (300 - 40 + 10 * math.pi) + math.pi * 64
    )


def test_a_ledge_by_its_outline(read, edited) -> None:
    ledge = "ledge = { outline = { rect = [50, 30, 150, 120] }, depth = 3 }"
    cut = read(edited(("depth = 20", f"depth = 20\nbelow = 1\n{ledge}"))).cuts[0]
    assert one(cut.ledge.outline).area == pytest.approx(9000)


LEDGES = [
    (
        "{ width = 90000, depth = 3 }",
        "ledge: width: 90000 mm is more than the blank is long (200 mm)",
    ),
    ("{ width = 8, depth = 20 }",
     "ledge: depth: 20 mm must be less than the depth of the pocket (20 mm)"),
    ("{ width = 8, depth = 2 }\nbelow = 2", "ledge: depth: 2 mm must be more than below (2 mm)"),
    ("{ width = 0, depth = 3 }", "ledge: width: 0 mm must be more than 0 mm"),
    ("{ width = 8 }", 'ledge: depth: missing: give a length such as 6, "6 mm" or "1/4 in"'),
    ("{ depth = 3 }", "ledge: needs a depth and either an outline or a width"),
    ("{ outline = { circle = [100, 75, 60] }, width = 8, depth = 3 }",
     "ledge: needs a depth and either an outline or a width"),
    ("{ width = 8, depth = 3, gap = 1 }", "ledge: gap: unknown key: known are width, depth"),
    ("3", "ledge: 3 is not a table: write ledge = { … }"),
    ("{ width = 45, depth = 3 }",
     "ledge: width: reaches 5 mm past the lower edge and 5 mm past the upper edge of the blank: "
     "move it or make it smaller"),
    ("{ outline = { rect = [50, 30, 139.5, 120] }, depth = 3 }",
     "ledge: outline: does not hold the outline of the pocket, which reaches 0.5 mm past it (at "),
    ("{ outline = { rect = [50, 30, 210, 120] }, depth = 3 }",
     "ledge: outline: reaches 10 mm past the right edge of the blank: move it or make it smaller"),
]  # fmt: skip


@pytest.mark.parametrize(("ledge", "line"), LEDGES)
def test_ledges_that_are_wrong(faults, edited, ledge: str, line: str) -> None:
    told = faults(edited(("depth = 20", f"depth = 20\nledge = {ledge}")))
    assert len(told) == 1 and told[0].startswith(WORKS + line)

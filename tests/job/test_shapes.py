import math
from pathlib import Path

import ezdxf
import pytest

from toolpath.drawing.outline import Err

WORKS = "{ rect = [60, 40, 140, 110], corner = 5 }"
WHERE = 'job.toml: cut[1] "works": outline'


# Areas by their closed formulas.
@pytest.mark.parametrize(
    ("shape", "area"),
    [
        ("{ rect = [60, 40, 140, 110] }", 80 * 70),
        (WORKS, 80 * 70 - (4 - math.pi) * 25),
        ("{ circle = [100, 75, 20] }", math.pi * 400),
        ('{ circle = [100, 75, "1 in"] }', math.pi * 25.4**2),
        ("{ polygon = [[60, 40], [140, 40], [60, 110]] }", 80 * 70 / 2),
        ("{ slot = [60, 60, 90, 60, 20] }", 30 * 20 + math.pi * 100),
    ],
)
def test_shapes(read, edited, shape: str, area: float) -> None:
    (region,) = read(edited((WORKS, shape))).cuts[0].outline
    assert region.area == pytest.approx(area, rel=1e-12)


def test_islands_are_taken_together(read, edited) -> None:
    islands = "islands = [{ circle = [80, 60, 5] }, { rect = [110, 80, 120, 90] }]"
    cut = read(edited(("depth = 20", f"depth = 20\n{islands}"))).cuts[0]
    assert [region.area for region in cut.islands] == pytest.approx([math.pi * 25, 100])


@pytest.fixture
def drawing(tmp_path: Path) -> None:
    """A drawing in inches: a 1 by 2 square on RIM, a circle on HUB, an open line on OPEN."""
    document = ezdxf.new()
    document.header["$INSUNITS"] = 1
    space = document.modelspace()
    rim = [(3, 2), (4, 2), (4, 4), (3, 4)]
    space.add_lwpolyline(rim, close=True, dxfattribs={"layer": "RIM"})
    space.add_circle((4, 3), 0.5, dxfattribs={"layer": "HUB"})
    space.add_line((0, 0), (1, 1), dxfattribs={"layer": "OPEN"})
    document.saveas(tmp_path / "clock.dxf")
    # 200 by 150 mm on a page of that size; y runs down from the top.
    (tmp_path / "clock.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="150mm" '
        'viewBox="0 0 200 150"><rect id="rim" x="70" y="50" width="40" height="50"/>'
        '<g id="hub"><circle cx="100" cy="75" r="10"/><circle cx="100" cy="75" r="3"/></g>'
        '<path id="open" d="M0 0H20V20"/></svg>'
    )


@pytest.mark.parametrize(
    ("name", "area", "box"),
    [("rim", 2000, (70, 50, 110, 100)), ("hub", math.pi * 91, (90, 65, 110, 85))],
)
def test_an_svg_drawing_lies_on_its_page(read, edited, drawing, name, area, box) -> None:
    job = read(edited((WORKS, '{ svg = "clock.svg", id = "' + name + '" }')))
    (region,) = job.cuts[0].outline
    assert region.area == pytest.approx(area, rel=1e-9)
    assert region.polygon(1e-4, Err.OUTWARD).bounds == pytest.approx(box, abs=1e-3)
    assert list(job.sources) == [Path("job.toml"), Path("clock.svg")]


@pytest.mark.parametrize(
    ("words", "area"),
    [
        ('layer = "RIM"', 2 * 25.4**2),
        ('layer = "HUB"', math.pi * 12.7**2),
        ('layer = "HUB", unit = "cm"', None),
        ('layer = "RIM", unit = "inch", join = 0.05', 2 * 25.4**2),
    ],
)
def test_a_drawing_has_its_unit_or_is_given_one(
    read, edited, drawing, words: str, area: float | None
) -> None:
    text = edited((WORKS, '{ dxf = "clock.dxf", ' + words + " }"), ("depth = 20", "depth = 20"))
    if area is None:  # the hub in cm: 5 mm radius about (40, 30)
        area = math.pi * 25
    job = read(text)
    assert sum(region.area for region in job.cuts[0].outline) == pytest.approx(area, rel=1e-9)
    assert list(job.sources) == [Path("job.toml"), Path("clock.dxf")]


SHAPES = [
    ("{}", ": names no shape: known are rect, circle, polygon, slot, dxf, svg"),
    ("{ rct = [1, 2, 3, 4] }", ': names no shape: did you mean "rect"?'),
    ("{ rect = [1, 2, 3, 4], circle = [1, 2, 3] }", ": holds rect and circle: one shape at a time"),
    ("[1, 2]", ": an array is not a table: write a shape, such as { rect = [0, 0, 100, 50] }"),
    ("{ rect = [60, 40, 140] }",
     ": rect: 3 values where [x0, y0, x1, y1] should stand: 4 lengths"),
    ("{ rect = [140, 40, 60, 110] }",
     ": rect: has no area: give [x0, y0, x1, y1] with x0 < x1 and y0 < y1"),
    ("{ rect = [60, 40, 140, nan] }",
     ': rect[4]: nan is not a finite number: give a length such as 6, "6 mm" or "1/4 in"'),
    ("{ rect = [60, 40, 140, 110], corner = -1 }", ": corner: -1 mm must be at least 0 mm"),
    ("{ rect = [60, 40, 140, 110], conrer = 1 }",
     ': conrer: unknown key: did you mean "corner"?'),
    ("{ circle = [100, 75, 0] }", ": circle[3]: 0 mm must be more than 0 mm"),
    ("{ circle = [100, 75, 20], corner = 2 }",
     ": corner: belongs to a rect shape: leave it out here"),
    ("{ polygon = [] }", ": polygon: has no corners: give at least three [x, y]"),
    ("{ polygon = [[60, 40], [140], [60, 110]] }",
     ": polygon[2]: 1 value where [x, y] should stand: 2 lengths"),
    ("{ polygon = 7 }", ": polygon: 7 is not an array: give [[x, y], …]"),
    ("{ slot = [60, 60, 90, 60, -4] }", ": slot[5]: -4 mm must be more than 0 mm"),
    ('{ svg = "clock.svg" }', ": id: missing: give the id of a shape or group in the drawing"),
    ('{ svg = "clok.svg", id = "rim" }',
     ': svg: "clok.svg" cannot be found: did you mean "clock.svg"?'),
    ('{ svg = "clock.svg", id = "rim", layer = "RIM" }',
     ": layer: belongs to a dxf shape: leave it out here"),
    ('{ svg = "clock.svg", id = "rim", unit = "mm" }',
     ": unit: belongs to a dxf shape: leave it out here"),
    ('{ svg = "clock.svg", id = "rim", join = 0 }', ": join: 0 mm must be more than 0 mm"),
    ('{ dxf = "clock.dxf" }', ": layer: missing: give the layer that the outline is drawn on"),
    ('{ dxf = "clok.dxf", layer = "RIM" }',
     ': dxf: "clok.dxf" cannot be found: did you mean "clock.dxf"?'),
    ('{ dxf = "clock.dxf", layer = "RIM", unit = "furlong" }',
     ': unit: "furlong" is not understood: known are mm, cm, m, in, inch, "'),
    ('{ dxf = "clock.dxf", layer = "RIM", join = 0 }', ": join: 0 mm must be more than 0 mm"),
]  # fmt: skip


@pytest.mark.parametrize(("shape", "line"), SHAPES)
def test_faults_of_a_shape(faults, edited, drawing, shape: str, line: str) -> None:
    assert faults(edited((WORKS, shape))) == [WHERE + line]


# What is wrong with a drawing is said by its reader; the key is ours.
@pytest.mark.parametrize(
    ("shape", "where"),
    [
        ("{ polygon = [[60, 40], [90, 70], [90, 40], [60, 75]] }", ": polygon: "),
        ("{ polygon = [[60, 40], [90, 70]] }", ": polygon: "),
        ("{ slot = [60, 60, 60, 60, 10] }", ": slot: "),
        ("{ rect = [60, 40, 140, 110], corner = 40 }", ": rect: "),
        ("{ circle = [100, 75, 1e-12] }", ": circle: "),
        ('{ dxf = "clock.dxf", layer = "OPEN" }', ": dxf: "),
        ('{ dxf = "clock.dxf", layer = "ABSENT" }', ": dxf: "),
        ('{ svg = "clock.svg", id = "open" }', ": svg: clock.svg: "),
        ('{ svg = "clock.svg", id = "absent" }', ": svg: clock.svg: "),
    ],
)
def test_drawings_that_cannot_be_used(faults, edited, drawing, shape: str, where: str) -> None:
    (line,) = faults(edited((WORKS, shape)))
    assert line.startswith(WHERE + where) and len(line) > len(WHERE + where) + 10


def test_faulty_islands_are_named(faults, edited) -> None:
    islands = "islands = [{ circle = [80, 60, 5] }, { circle = [1, 2] }, 3]"
    assert faults(edited(("depth = 20", f"depth = 20\n{islands}"))) == [
        'job.toml: cut[1] "works": islands[3]: 3 is not a table: '
        "write a shape, such as { rect = [0, 0, 100, 50] }",
        'job.toml: cut[1] "works": islands[2]: circle: '
        "2 values where [x, y, radius] should stand: 3 lengths",
    ]


def test_a_blank_is_one_piece_without_holes(faults, edited, tmp_path: Path) -> None:
    document = ezdxf.new(units=4)
    space = document.modelspace()
    for layer, shapes in (("TWO", (0, 300)), ("HOLE", (0,))):
        for x in shapes:
            corners = [(x, 0), (x + 200, 0), (x + 200, 150), (x, 150)]
            space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    space.add_circle((190, 140), 3, dxfattribs={"layer": "HOLE"})
    document.saveas(tmp_path / "clock.dxf")
    for layer, line in (
        ("TWO", "has 2 parts: a blank is one piece"),
        ("HOLE", "has 1 inside loop(s): a blank has no holes; cut them"),
    ):
        shape = '{ dxf = "clock.dxf", layer = "' + layer + '" }'
        text = edited(("{ rect = [0, 0, 200, 150] }", shape))
        assert faults(text) == [f"job.toml: blank: outline: {line}"]

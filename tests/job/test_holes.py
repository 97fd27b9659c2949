import math

import pytest

HOLE = 'job.toml: cut[2] "spindle hole": '
AT = "at = [[100, 75]]"
DRILL, FLAT = 'cutter = "drill 5"', 'cutter = "flat 6" # bores'
LONG = ("flute_length = 35", "flute_length = 45")


@pytest.fixture
def drawing(tmp_path):
    """Writes holes.dxf with points and circles (x, y, diameter or None) on the layer HOLES."""
    import ezdxf

    def write(*holes, layer: str = "HOLES"):
        made = ezdxf.new()
        made.units = ezdxf.units.MM
        made.layers.add("EMPTY")
        for x, y, diameter in holes:
            space, on = made.modelspace(), {"layer": layer}
            if diameter is None:
                space.add_point((x, y), dxfattribs=on)
            else:
                space.add_circle((x, y), diameter / 2.0, dxfattribs=on)
        made.saveas(tmp_path / "holes.dxf")

    return write


def test_a_row(read, edited) -> None:
    hole = read(edited((AT, "at = { from = [20, 30], step = [15, 2], count = 3 }"))).cuts[1]
    assert hole.at == ((20.0, 30.0), (35.0, 32.0), (50.0, 34.0))


def test_a_grid(read, edited) -> None:
    hole = read(edited((AT, "at = { from = [20, 30], step = [15, -7], count = [3, 2] }"))).cuts[1]
    assert sorted(hole.at) == [(20, 23), (20, 30), (35, 23), (35, 30), (50, 23), (50, 30)]


def test_a_circle_begins_at_the_top_and_runs_counter_clockwise(read, edited) -> None:
    hole = read(edited((AT, "at = { centre = [100, 75], radius = 20, count = 4 }"))).cuts[1]
    expected = [(100, 95), (80, 75), (100, 55), (120, 75)]
    assert [xy for at in hole.at for xy in at] == pytest.approx([v for xy in expected for v in xy])


def test_a_circle_may_begin_elsewhere(read, edited) -> None:
    at = "at = { centre = [100, 75], radius = 20, count = 1, first = 30 }"
    ((x, y),) = read(edited((AT, at))).cuts[1].at
    assert (x, y) == pytest.approx((100 + 10 * math.sqrt(3), 85))


def test_a_pattern_in_inches(read, edited) -> None:
    at = 'at = { from = ["1 in", "2 in"], step = ["1/2 in", 0], count = 2 }'
    hole = read(edited((AT, at))).cuts[1]
    # 1 in = 25.4 mm exactly (international yard and pound agreement, 1959).
    assert [v for at in hole.at for v in at] == pytest.approx([25.4, 50.8, 38.1, 50.8])


def test_points_and_circles_of_a_drawing(read, edited, drawing) -> None:
    drawing((20, 30, None), (40, 30, 5.0))
    hole = read(edited((AT, 'at = { dxf = "holes.dxf", layer = "HOLES" }'))).cuts[1]
    assert hole.at == ((20.0, 30.0), (40.0, 30.0)) and hole.diameter == 5.0 and not hole.bored


def test_circles_of_a_drawing_give_the_diameter(read, edited, drawing) -> None:
    drawing((20, 30, 9.0), (40, 30, 9.004))
    at = 'at = { dxf = "holes.dxf", layer = "HOLES" }'
    hole = read(edited((AT, at), (DRILL, FLAT), LONG)).cuts[1]
    assert hole.diameter == pytest.approx(9.0) and hole.bored


def test_a_diameter_beside_other_circles_is_warned_of(alarms, read, edited, drawing) -> None:
    drawing((20, 30, 9.0))
    at = 'at = { dxf = "holes.dxf", layer = "HOLES" }\ndiameter = 8'
    job = read(edited((AT, at), (DRILL, FLAT), LONG))
    assert job.cuts[1].diameter == 8.0
    (warned,) = alarms(job)
    assert warned.where == 'cut[2] "spindle hole": diameter'
    assert warned.message.startswith("8 mm is not what the circles of the drawing are wide (9 mm)")


DRAWN = [
    ('layer = "HOLES"', [(20, 30, 9.0), (40, 30, 9.02)],
     "at: layer: holds circles from 9 mm to 9.02 mm wide: a drill cut has one diameter, so put "
     "each on a layer and in a cut of its own"),
    ('layer = "HOLES"', [(20, 30, 4.0)],
     'at: 4 mm is narrower than the cutter "drill 5" (5 mm): take a thinner cutter'),
    ('layer = "HOLES"', [(1, 75, 5.0)],
     "at: hole 1: the hole of 5 mm at x = 1 mm, y = 75 mm reaches 1.5 mm past the edge of the "
     "blank: move it"),
    ('layer = "HOLE"', [(20, 30, 5.0)], "at: dxf: holes.dxf: "),
    ("", [(20, 30, 5.0)], "at: layer: missing: give the layer that the holes are drawn on"),
    ('layer = "HOLES", unit = "foot"', [(20, 30, 5.0)], "at: unit: "),
    ('layer = "HOLES", first = 3', [(20, 30, 5.0)],
     "at: first: belongs to a pattern with centre: leave it out here"),
]  # fmt: skip


@pytest.mark.parametrize(("keys", "holes", "line"), DRAWN)
def test_drawings_that_are_wrong(faults, edited, drawing, keys, holes, line) -> None:
    drawing(*holes)
    comma = ", " if keys else ""
    (told,) = faults(edited((AT, f'at = {{ dxf = "holes.dxf"{comma}{keys} }}')))
    assert told.startswith(HOLE + line)


PATTERNS = [
    ("{ from = [20, 30], step = [15, 0], count = 0 }",
     "at: count: 0 must be a whole number from 1 to 10000"),
    ("{ from = [20, 30], step = [15, 0], count = [2, 3, 4] }",
     "at: count: holds 3 numbers: give [across, up], or one for a row"),
    ("{ from = [20, 30], step = [15, 15], count = [200, 51] }",
     "at: count: makes 10200 holes; at most 10000 are read"),
    ("{ from = [20, 30], step = [15, 0], count = [2, 3] }",
     "at: step[2]: is 0: the holes would lie in one place"),
    ("{ from = [20, 30], step = [0, 0], count = 9999 }",
     "at: step: is [0, 0]: the holes would lie in one place"),
    ("[[20, 30], [40, 30], [20.009, 30]]",
     "at[3]: stands where at[1] does (x = 20.009 mm, y = 30 mm): leave one out"),
    ("{ from = [20, 30], step = [90, 0], count = 3 }",
     "at: hole 3: x = 200 mm, y = 30 mm"),
    ("{ centre = [100, 75], radius = 0, count = 3 }", "at: radius: 0 mm must be more than 0 mm"),
    ("{ centre = [100, 75], radius = 20 }",
     "at: count: missing: give a whole number from 1 to 10000"),
    ("{ ring = 6 }", "at: names no pattern: known are from, centre, dxf: give one of them"),
    ("{ from = [1, 2], centre = [3, 4] }", "at: holds from and centre: give one of them"),
]  # fmt: skip


@pytest.mark.parametrize(("at", "line"), PATTERNS)
def test_patterns_that_are_wrong(faults, edited, at: str, line: str) -> None:
    if "hole 3: x = 200" in line:
        line = "at: hole 3: the hole of 5 mm at x = 200 mm, y = 30 mm reaches 2.5 mm past the edge"
    (told,) = faults(edited((AT, f"at = {at}")))
    assert told.startswith(HOLE + line)


def test_holes_a_hundredth_apart_are_two(read, edited) -> None:
    assert len(read(edited((AT, "at = [[20, 30], [20.011, 30]]"))).cuts[1].at) == 2


def test_wider_holes_are_bored(alarms, read, edited) -> None:
    job = read(edited((AT, f"{AT}\ndiameter = 60"), (DRILL, FLAT), LONG))
    hole = job.cuts[1]
    assert (hole.diameter, hole.bored) == (60.0, True)
    assert alarms(job) == []  # the speeds of drills do not rule a helix


@pytest.mark.parametrize("shape", ['"ball"', '"bull"\ncorner_radius = 1'])
def test_ball_and_bull_bore_too(read, faults, edited, shape: str) -> None:
    changes = (("shape = \"vee\"\nangle = 60\ntip_diameter = 0.2", f"shape = {shape}"),
               (DRILL, 'cutter = "vee 60" # bores'), ('cutter = "vee 60"\n', 'cutter = "flat 6"\n'),
               ("through = true", "depth = 5"))  # fmt: skip
    changes = (changes[0], changes[2], changes[1], changes[3])
    assert read(edited((AT, f"{AT}\ndiameter = 9"), *changes)).cuts[1].bored
    (line,) = faults(edited((AT, f"{AT}\ndiameter = 8"), *changes))
    assert "comes with a later version; use one of shape drill or flat" in line


WIDE = [
    ("diameter = 8",
     'cutter: "drill 5" (5 mm) is a drill, which cannot cut sideways: for holes of 8 mm take a '
     "drill of that diameter, or a thinner flat cutter"),
    ("diameter = 4",
     'diameter: 4 mm is narrower than the cutter "drill 5" (5 mm): take a thinner cutter'),
    ("diameter = 0", "diameter: 0 mm must be more than 0 mm"),
]  # fmt: skip


@pytest.mark.parametrize(("diameter", "line"), WIDE)
def test_diameters_that_are_wrong(faults, edited, diameter: str, line: str) -> None:
    assert faults(edited((AT, f"{AT}\n{diameter}"))) == [HOLE + line]


def test_a_wide_hole_must_lie_within_the_blank(faults, edited) -> None:
    text = edited((AT, "at = [[100, 75], [20, 75]]\ndiameter = 41"), (DRILL, FLAT), LONG)
    assert faults(text) == [
        f"{HOLE}at[2]: the hole of 41 mm at x = 20 mm, y = 75 mm reaches 0.5 mm past the edge of "
        "the blank: move it"
    ]

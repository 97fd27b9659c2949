import math

import pytest

from toolpath.job import cross

WORKS = 'job.toml: cut[1] "works": '
HOLE = 'job.toml: cut[2] "spindle hole": '
RECT = "{ rect = [60, 40, 140, 110], corner = 5 }"
RING = "{ circle = [100, 75, 60] }"


OUTSIDE = [
    ("{ rect = [60, 40, 240, 110] }", "40 mm past the right edge of the blank"),
    ("{ rect = [-3, -2, 140, 110] }",
     "3 mm past the left edge and 2 mm past the lower edge of the blank"),
    ("{ rect = [60, 40, 140, 150.02] }", "0.02 mm past the upper edge of the blank"),
    ('{ rect = [60, 40, "8 in", 110] }', "3.2 mm past the right edge of the blank"),
]  # fmt: skip


@pytest.mark.parametrize(("shape", "words"), OUTSIDE)
def test_outlines_past_the_blank(faults, edited, shape: str, words: str) -> None:
    line = f"outline: reaches {words}: move it or make it smaller"
    assert faults(edited((RECT, shape))) == [WORKS + line]
    assert faults(edited((RING, shape))) == [f'job.toml: cut[3] "minute ring": {line}']


@pytest.mark.parametrize("shape", ["{ rect = [0, 0, 200, 150] }", "{ rect = [0, 0, 200.009, 99] }"])
def test_outlines_on_the_edge_lie_within(read, edited, shape: str) -> None:
    assert read(edited((RECT, shape), (RING, shape)))


def test_outlines_past_a_round_blank(faults, edited) -> None:
    # The corner (100 + 60, 75 + 60) lies 60 sqrt(2) from the middle of a disc of radius 75.
    text = edited(
        ("{ rect = [0, 0, 200, 150] }", "{ circle = [100, 75, 75] }"),
        (RECT, "{ polygon = [[100, 75], [160, 75], [160, 135]] }"),
    )
    far = 60 * math.sqrt(2) - 75
    assert faults(text) == [
        f"{WORKS}outline: reaches {far:.3f} mm past the edge (at x = 160 mm, y = 135 mm) "
        "of the blank: move it or make it smaller"
    ]


def test_holes_outside_the_blank(faults, edited) -> None:
    text = edited(
        ("at = [[100, 75]]", "at = [[100, 75], [203, 154], [3, 147.5], [-2, 75], [198, 75]]")
    )
    assert faults(text) == [
        f"{HOLE}at[2]: x = 203 mm, y = 154 mm lies 5 mm outside the blank: move it",
        f"{HOLE}at[4]: x = -2 mm, y = 75 mm lies 2 mm outside the blank: move it",
        f"{HOLE}at[5]: the hole of 5 mm at x = 198 mm, y = 75 mm reaches 0.5 mm past the edge of "
        "the blank: move it",
    ]


ROOM = [
    ("depth = 20\nislands = [{ circle = [100, 75, 10] }, { circle = [180, 75, 10] }]",
     "islands[2]: lies 30 mm outside the outline of the cut: move it into it or leave it out"),
    ("depth = 20\nislands = [{ rect = [50, 30, 150, 120] }]",
     "islands: cover the whole outline: nothing is left to cut"),
    # Widest at the square corners: a disc that touches both walls and the island's corner, 4 mm
    # from each, has a diameter of 8 sqrt(2) / (1 + sqrt(2)) = 4.686 mm.
    ("depth = 20\nislands = [{ rect = [64, 44, 136, 106] }]",
     'cutter: "flat 6" (6 mm) does not fit into the outline: it takes one of at most 4.69 mm'),
]  # fmt: skip


@pytest.mark.parametrize(("depth", "line"), ROOM)
def test_islands_leave_room(faults, edited, depth: str, line: str) -> None:
    assert faults(
        edited(("depth = 20", depth), (RECT, RECT.replace("corner = 5", "corner = 0")))
    ) == [WORKS + line]


def test_an_island_over_the_whole_cut_of_two_cutters(faults, edited) -> None:
    text = edited(
        ("depth = 20", "depth = 20\nislands = [{ rect = [50, 30, 150, 120] }]"),
        ('cutter = "flat 6"', 'cutter = ["flat 6", "flat 3"]'),
    )
    cutter = text[text.index("[[cutter]]") : text.index("[[cutter]]", text.index("[[cutter]]") + 1)]
    text += cutter.replace('"flat 6"', '"flat 3"').replace("diameter = 6", "diameter = 3")
    assert faults(text) == [f"{WORKS}islands: cover the whole outline: nothing is left to cut"]


def test_an_island_may_hang_over_the_edge(read, edited) -> None:
    assert read(edited(("depth = 20", "depth = 20\nislands = [{ rect = [100, 30, 110, 60] }]")))


@pytest.mark.parametrize(
    ("shape", "widest"),
    [
        ("{ circle = [100, 75, 2.9] }", "5.8"),
        ("{ slot = [60, 60, 90, 60, 5.5] }", "5.5"),
        # The inscribed circle of a triangle with sides 6, 8, 10 has a radius of 2.
        ("{ polygon = [[60, 60], [66, 60], [60, 68]] }", "4"),
    ],
)
def test_pockets_that_the_cutter_does_not_fit_into(faults, edited, shape, widest) -> None:
    assert faults(edited((RECT, shape))) == [
        f'{WORKS}cutter: "flat 6" (6 mm) does not fit into the outline: '
        f"it takes one of at most {widest} mm"
    ]


def test_an_inner_profile_needs_room_too(faults, edited) -> None:
    text = edited(
        (RING, "{ circle = [100, 75, 2] }"),
        ('side = "centre"', 'side = "inner"'),
        ('cutter = "vee 60"', 'cutter = "flat 6" # too'),
    )
    assert faults(text) == [
        'job.toml: cut[3] "minute ring": cutter: "flat 6" (6 mm) does not fit into the outline: '
        "it takes one of at most 4 mm"
    ]


LENGTHS = [
    ("reach = 50", "reach = 35.5", "depth = 36",
     '"flat 6" reaches 35.5 mm, less than the 36 mm that this cut goes down: '
     "let it stick out more or take a longer one"),
    ("reach = 50", "reach = 50", "depth = 36",
     '"flat 6" has flutes of 35 mm, less than the 36 mm that this cut goes down, and its shank '
     "is no thinner than they are: take longer flutes or a thinner shank"),
    ("reach = 50", "reach = 50\nshank = 8", "depth = 36",
     '"flat 6" has flutes of 35 mm, less than the 36 mm that this cut goes down, and its shank '
     "is no thinner than they are: take longer flutes or a thinner shank"),
    ("reach = 50", "reach = 42", "through = true",
     '"flat 6" reaches 42 mm, less than the 42.5 mm that this cut goes down: '
     "let it stick out more or take a longer one"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "depth", "line"), LENGTHS)
def test_reach_and_flutes(faults, edited, old: str, new: str, depth: str, line: str) -> None:
    assert faults(edited((old, new), ("depth = 20", depth))) == [f"{WORKS}cutter: {line}"]


def test_a_neck_may_follow_the_flutes_as_far_as_it_goes(read, faults, edited) -> None:
    deep = ("depth = 20", "depth = 36")
    neck = "reach = 50\nneck = {{ diameter = {}, length = {} }}"
    assert read(edited(("reach = 50", neck.format(5.9, 36)), deep))
    (line,) = faults(edited(("reach = 50", neck.format(5.9, 35.5)), deep))
    assert line.endswith(
        '"flat 6" has a neck that ends 35.5 mm above its tip, less than the 36 mm that this cut '
        "goes down, and its shank is no thinner than the flutes: take a longer neck or a thinner "
        "shank"
    )
    (line,) = faults(edited(("reach = 50", neck.format(6, 36)), deep))
    assert line.endswith("and its neck is no thinner than they are: take longer flutes or a "
                         "thinner neck")  # fmt: skip


def test_a_thinner_shank_may_follow_the_flutes(read, edited) -> None:
    assert read(edited(("reach = 50", "reach = 50\nshank = 5.9"), ("depth = 20", "depth = 36")))


def test_the_point_of_a_drill_goes_deeper(faults, edited) -> None:
    # A point of 90 degrees on 5 mm is 2.5 mm long: 42.5 + 2.5 = 45.
    text = edited(("flute_length = 50\nreach = 55", "flute_length = 44\nreach = 44.9"))
    assert faults(text) == [
        f'{HOLE}cutter: "drill 5" reaches 44.9 mm, less than the 45 mm that this cut goes down '
        "(its point takes 2.5 mm of it): let it stick out more or take a longer one"
    ]


def test_names_are_given_once(faults, edited) -> None:
    text = edited(
        ('name = "vee 60"', 'name = "drill 5"'),
        ('cutter = "vee 60"', 'cutter = "flat 6" # too'),
        ('name = "pebble"', 'name = "cog"'),
        ('name = "minute ring"', 'name = "works"'),
    )
    assert faults(text) == [
        'job.toml: cutter[3] "drill 5": name: "drill 5" is the name of cutter[2] too: give another',
        'job.toml: piece[2] "cog": name: "cog" is the name of piece[1] too: give another',
        'job.toml: cut[3] "works": name: "works" is the name of cut[1] too: give another',
    ]


# 200 by 150 mm in cells of 0.2 mm: 0.75 million cells of 4 bytes in 10 fields, 30 MB.
def test_a_grid_beyond_the_memory(faults, read, edited, clock, monkeypatch) -> None:
    monkeypatch.setattr(cross, "available_memory", lambda: 30_000_000)
    assert read(clock)
    monkeypatch.setattr(cross, "available_memory", lambda: 29_999_960)
    assert faults(clock) == [
        "job.toml: check: cell: 0.2 mm over this blank makes 0.75 million cells, which would take "
        "30 MB where 30 MB can be had: a cell of 0.21 mm would fit"
    ]
    monkeypatch.setattr(cross, "available_memory", lambda: 1_000_000)
    assert faults(clock) == [
        "job.toml: check: cell: 0.2 mm over this blank makes 0.75 million cells, which would take "
        "30 MB where 1 MB can be had: a cell of 1.1 mm would fit"
    ]
    assert read(edited(("clearance = 1.0", "clearance = 1.0\ncell = 1.1")))
    monkeypatch.setattr(cross, "available_memory", lambda: 1)
    assert faults(clock)[0].endswith("no cell up to 2 mm would fit: the blank is too large")


def test_a_grid_beyond_any_memory(faults, edited, monkeypatch) -> None:
    monkeypatch.setattr(cross, "available_memory", lambda: 10**15)
    text = edited(("rect = [0, 0, 200, 150]", "rect = [0, 0, 90000, 90000]"))
    assert faults(text) == [
        "job.toml: check: cell: 0.2 mm over this blank makes 202500 million cells, which would "
        "take 8100000 MB where 20000 MB can be had: no cell up to 2 mm would fit: "
        "the blank is too large"
    ]


def test_a_mesh_far_larger_than_the_blank_has_a_wrong_unit(faults, read, edited, tmp_path) -> None:
    import trimesh

    trimesh.creation.box(extents=(40, 20, 5)).export(tmp_path / "stone.stl")
    mesh = '{ kind = "mesh", file = "stone.stl", unit = "UNIT" }'
    ball = '{ kind = "sphere", diameter = 16 }'
    (fault,) = faults(edited((ball, mesh.replace("UNIT", "in"))))
    assert fault.startswith('job.toml: piece[2] "pebble": solid: stone.stl is 1016 mm on its')
    assert read(edited((ball, mesh.replace("UNIT", "mm")))).pieces[1].name == "pebble"


def test_a_speed_between_the_steps_of_the_dial_is_warned_of(alarms, read, edited) -> None:
    # 1500 lies 10 % under 1650 and is taken; 16000 lies 14 % under 18200, 18 % over 13600.
    dial = ("safe_height = 6", "safe_height = 6\ndial = [1650, 13600, 18200]")
    (warned,) = alarms(read(edited(dial)))
    assert warned.where == 'cutter[1] "flat 6": rpm'
    assert warned.message.startswith("16000 rev/min is more than 10 % off every step of the dial")
    assert "the nearest is step 3 with 18200 rev/min" in warned.message


def test_the_smaller_cutter_must_fit_everywhere_the_larger_somewhere(faults, edited) -> None:
    eight = CUTTER.replace("flat 6", "flat 8").replace("diameter = 6", "diameter = 8")
    text = edited(
        (RECT, "{ slot = [60, 60, 90, 60, 7] }"),
        ('cutter = "flat 6"', 'cutter = ["flat 8", "flat 6"]'),
        ('\n[[piece]]\nname = "cog"', f'{eight}\n[[piece]]\nname = "cog"'),
    )
    assert faults(text) == [
        f'{WORKS}cutter: "flat 8" (8 mm) does not fit into the outline: it takes one of at most '
        "7 mm"
    ]


def test_a_slot_may_be_as_wide_as_its_cutter(read, edited) -> None:
    assert read(edited((RECT, "{ slot = [60, 60, 90, 60, 6] }")))


CUTTER = """
[[cutter]]
name = "flat 6"
shape = "flat"
diameter = 6
flutes = 2
flute_length = 35
reach = 50
rpm = 16000
feed = 1200
plunge = 300
stepdown = 3
stepover = 0.4
"""

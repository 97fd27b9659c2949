"""What is said of a cutter's figures. Bands: toolpath/job/materials.toml, with their sources."""

import pytest

GOOD = """\
name = "flat 6"
shape = "flat"
diameter = 6
flutes = 1
flute_length = 21
reach = 28
rpm = 14000
feed = 1400
plunge = 300
stepdown = 2
stepover = 0.4
"""
OLD = """\
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
AT = 'cutter[1] "flat 6"'


@pytest.fixture
def said(read, edited):
    """What a job says of its flat cutter, with texts of it exchanged: where and words."""

    def say(*changes, material="casting resin", machine=()):
        cutter = GOOD
        for old, new in changes:
            assert cutter.count(old) == 1
            cutter = cutter.replace(old, new)
        job = read(
            edited((OLD, cutter), ("casting plaster", material), *machine, ("depth = 20", DEPTH))
        )
        return [
            (w.where.removeprefix(AT).removeprefix(": "), w.message, w.note)
            for w in job.warnings
            if w.where.startswith((AT, "blank"))
        ]

    return say


DEPTH = "depth = 10"
FASTER = (("spindle = [800, 24000]", "spindle = [8000, 24000]"), ("rpm = 1500", "rpm = 8000"))


def test_good_figures_are_passed_over(said):
    assert said() == []


@pytest.mark.parametrize(
    ("change", "key", "words"),
    [
        (
            ("feed = 1400", "feed = 280"),
            "feed",
            "280 mm/min with 1 flute at 14000 rev/min is 0.02 mm a tooth: under 0.025 mm a tooth "
            "most cutters rub and do not cut: feed at least 350 mm/min, or turn at most "
            "11200 rev/min",
        ),
        (
            ("feed = 1400", "feed = 1000\nplunge = 299"),
            "feed",
            "1000 mm/min with 1 flute at 20000 rev/min is 0.05 mm a tooth, little for cast resin "
            "(0.06 to 0.15 mm): it melts and smears: feed at least 1200 mm/min, or turn at most "
            "16666 rev/min",
        ),
        (
            ("feed = 1400", "feed = 2800"),
            "feed",
            "2800 mm/min with 1 flute at 14000 rev/min is 0.2 mm a tooth, much for cast resin "
            "(0.06 to 0.15 mm): it may chip, or break the cutter: feed at most 2100 mm/min",
        ),
        (
            ("rpm = 14000", "rpm = 18000"),
            "rpm",
            "18000 rev/min moves the rim at 339 m/min; cast resin takes 120 to 305 m/min, and "
            "faster it melts and smears: turn at most 16180 rev/min",
        ),
        (
            ("stepdown = 2", "stepdown = 3.2"),
            "stepdown",
            "3.2 mm is deep for a slot in cast resin with a cutter of 6 mm: at most 3 mm",
        ),
        (
            ("reach = 28", "reach = 36"),
            "reach",
            "36 mm is 6.0 times the diameter; over 5 a cutter bends and chatters: let it stick "
            "out less if the cut allows (half the length bends an eighth), else feed slower and "
            "take less at a time",
        ),
        (
            ("plunge = 300", "plunge = 700"),
            "plunge",
            "700 mm/min is 50% of the feed; cast resin takes up to 30%: at most 420 mm/min",
        ),
        (
            ("stepover = 0.4", "stepover = 0.4\nramp = 5"),
            "ramp",
            "5 degrees is a steep way into cast resin: at most 3 degrees",
        ),
    ],
)
def test_what_is_warned_of(said, change, key, words):
    changes = [change]
    if "plunge = 299" in change[1]:
        changes = [(change[0], "feed = 1000"), ("rpm = 14000", "rpm = 20000")]
        changes += [("plunge = 300", "plunge = 299")]
    found = said(*changes)
    assert (key, words, False) in found
    assert all(not note for *_, note in found)


def test_a_spindle_that_cannot_turn_slow_enough(said):
    # 20 mm at 8000 rev/min: pi x 20 x 8000 / 1000 = 503 m/min; 305 would need 4854 rev/min.
    found = said(
        ("diameter = 6", "diameter = 20"),
        ("rpm = 14000", "rpm = 8000"),
        machine=FASTER,
    )
    (words,) = (words for key, words, _ in found if key == "rpm")
    assert words == (
        "8000 rev/min moves the rim at 503 m/min; cast resin takes 120 to 305 m/min, and faster "
        "it melts and smears: that would need 4854 rev/min, and this spindle turns no slower than "
        "8000 rev/min: take a thinner cutter, or one with fewer flutes and light cuts"
    )


def test_deep_levels_lower_the_most_of_a_chip(said):
    # Two diameters at once take a quarter off the chip (router chart): 0.1125 mm of 0.15.
    fed = ("feed = 1400", "feed = 1680")
    assert said(fed) == []
    found = said(fed, ("stepdown = 2", "stepdown = 12"))
    (words,) = (words for key, words, _ in found if key == "feed")
    assert "is 0.12 mm a tooth, much for cast resin (0.06 to 0.112 mm) at a stepdown of 12 mm" in (
        words
    )
    assert any(key == "stepdown" for key, *_ in found)


def test_a_material_that_is_not_known_is_said_once_and_judged_by_nothing(said):
    found = said(("feed = 1400", "feed = 100"), material="granite")
    ((where, words, note),) = found
    assert where == "blank: material" and note
    assert words.startswith('"granite" is not in the table of materials (known are cast resin')
    assert words.endswith("speeds and feeds are neither proposed nor judged")


def test_what_is_left_out_is_proposed_and_said(said, read, edited):
    left_out = GOOD.split("rpm")[0]
    job = read(edited((OLD, left_out), ("casting plaster", "casting resin")))
    made = job.cutters["flat 6"]
    assert (made.rpm, made.feed, made.stepdown) == (13000.0, 1170.0, 2.0)
    ((words, note),) = ((w.message, w.note) for w in job.warnings if w.where == AT)
    assert note and words == (
        "proposed: rpm 13000, feed 1170 mm/min (0.09 mm a tooth), plunge 290 mm/min, stepdown "
        "2 mm, stepover 0.4, for cast resin: a place to start from, state your own once tried"
    )


def test_the_feed_of_a_chip(read, edited, faults):
    chip = GOOD.replace("feed = 1400", 'chip = "0.1 mm"')
    job = read(edited((OLD, chip), ("casting plaster", "casting resin")))
    assert job.cutters["flat 6"].feed == pytest.approx(1400.0)
    assert job.cutters["flat 6"].chip == 0.1
    in_plaster = read(edited((OLD, chip)))
    assert in_plaster.cutters["flat 6"].feed == pytest.approx(1400.0)
    both = edited((OLD, chip + "feed = 1000\n"))
    assert faults(both) == [
        f"job.toml: {AT}: chip: given together with feed: leave one of them out"
    ]


def test_a_chip_that_the_machine_cannot_feed(said):
    found = said(("feed = 1400", "chip = 0.14"), ("flutes = 1", "flutes = 2"))
    (words,) = (words for key, words, _ in found if key == "chip")
    # 0.14 x 2 x 14000 = 3920 of 3000: 3000 / 0.28 = 10714 rev/min.
    assert words == (
        "0.14 mm a tooth needs more than the machine's feed_max at 14000 rev/min: it gets 0.107 mm "
        "a tooth: turn at 10714 rev/min, not thinner"
    )


COVER = """
[[plate]]
for = "works"
cutter = "flat 6"
stock = { size = [130, 120], thickness = 3, material = "MATERIAL" }
"""


@pytest.mark.parametrize(
    ("material", "stepdown"), [("cast acrylic", 4.0), ("sheet metal", 2.0), ("aluminium", 0.6)]
)
def test_a_plate_gets_the_proposals_of_its_sheet(read, edited, material, stepdown):
    text = edited(
        (OLD, GOOD.replace("stepdown = 2\n", "")),
        ("casting plaster", "casting resin"),
        ('depth = 20\ncutter = "flat 6"', 'depth = 10\ncutter = "flat 6"\nledge = { width = 6, '
         "depth = 3 }"),
    ) + COVER.replace("MATERIAL", material)  # fmt: skip
    job = read(text)
    assert job.cutters["flat 6"].stepdown == 2.0
    assert job.plates[0].cutter.stepdown == pytest.approx(stepdown)
    said = [w.message for w in job.warnings if w.message.startswith("proposed") and AT in w.where]
    assert len(said) == (1 if material == "sheet metal" else 2)
    unknown = [w for w in job.warnings if w.where == "plate[1]: stock: material"]
    assert len(unknown) == (material == "sheet metal")

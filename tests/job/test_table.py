import math
from enum import Enum
from pathlib import Path

import pytest

from toolpath.errors import FaultsError
from toolpath.job.keys import Keys
from toolpath.job.limits import FEED, GAP, MAX_FAULTS, PLACE, SIZE
from toolpath.job.table import Reading, Table
from toolpath.units import Unit


class Colour(Enum):
    AMBER = "amber"
    CLEAR = "clear"


def table(unit: Unit = Unit.MM, **values: object) -> Table:
    return Table(reading=Reading(file=Path("job.toml"), unit=unit), where="blank", values=values)


def told(view: Table) -> list[str]:
    return [str(fault) for fault in view.reading.faults]


# 1 in = 25.4 mm exactly (1959 agreement).
@pytest.mark.parametrize(
    ("unit", "raw", "mm"),
    [
        (Unit.MM, 6, 6.0),
        (Unit.INCH, 0.25, 6.35),
        (Unit.INCH, "6 mm", 6.0),
        (Unit.MM, "1/4 in", 6.35),
        (Unit.MM, '1 3/4"', 44.45),
        (Unit.MM, "2 cm", 20.0),
    ],
)
def test_a_length_is_in_the_unit_of_the_job_or_its_own(unit: Unit, raw: object, mm: float) -> None:
    view = table(unit, depth=raw)
    assert view.length("depth", SIZE) == pytest.approx(mm, rel=1e-15)
    assert not told(view)


@pytest.mark.parametrize(
    ("unit", "raw", "mm_per_min"),
    [
        (Unit.MM, 1200, 1200.0),
        (Unit.INCH, 48, 1219.2),
        (Unit.INCH, "1200 mm", 1200.0),
        (Unit.INCH, "1200 mm/min", 1200.0),
        (Unit.MM, "48 in/min", 1219.2),
    ],
)
def test_a_feed_is_a_length_per_minute(unit: Unit, raw: object, mm_per_min: float) -> None:
    view = table(unit, feed=raw)
    assert view.feed("feed", FEED) == pytest.approx(mm_per_min, rel=1e-15)
    assert not told(view)


def test_an_acceleration_stays_in_mm() -> None:
    assert table(Unit.INCH, a=500).acceleration("a", SIZE, 1.0) == 500.0
    assert table(Unit.INCH, a="20 in/s²").acceleration("a", SIZE, 1.0) == pytest.approx(508.0)
    assert table(Unit.INCH).acceleration("a", SIZE, 400.0) == 400.0


def test_defaults_are_mm_whatever_the_unit() -> None:
    assert table(Unit.INCH).length("cell", SIZE, 0.2) == 0.2


@pytest.mark.parametrize(
    ("raw", "line"),
    [
        (-1, "-1 mm must be more than 0 mm"),
        (0, "0 mm must be more than 0 mm"),
        (2e5, "200000 mm must be at most 100000 mm"),
        (math.nan, 'nan is not a finite number: give a length such as 6, "6 mm" or "1/4 in"'),
        (10**400, "a number beyond any size is not a finite number: give a length such as 6, "
         '"6 mm" or "1/4 in"'),
        (True, 'true is not a number: give a length such as 6, "6 mm" or "1/4 in"'),
        ([], 'an array is not a number: give a length such as 6, "6 mm" or "1/4 in"'),
        ("6", '"6" is not a length such as 6, "6 mm" or "1/4 in" (units: mm, cm, m, in, inch, ")'),
        ("6 ft", '"6 ft" is not a length such as 6, "6 mm" or "1/4 in" '
         '(units: mm, cm, m, in, inch, ")'),
        ("1/0 in", '"1/0 in" is not a length such as 6, "6 mm" or "1/4 in" '
         '(units: mm, cm, m, in, inch, ")'),
    ],
)  # fmt: skip
def test_a_wrong_length_is_a_fault_and_nan(raw: object, line: str) -> None:
    view = table(depth=raw)
    assert math.isnan(view.length("depth", SIZE))
    assert told(view) == [f"job.toml: blank: depth: {line}"]


def test_lengths_of_an_inch_job_are_shown_in_inches_with_the_mm_beside() -> None:
    view = table(Unit.INCH, depth=-2, feed="0 mm")
    view.length("depth", GAP)
    view.feed("feed", FEED)
    assert told(view) == [
        "job.toml: blank: depth: -2 in = -50.8 mm must be at least 0 in = 0 mm",
        "job.toml: blank: feed: 0 in/min = 0 mm/min must be at least 0.0394 in/min = 1 mm/min",
    ]


def test_arrays_of_lengths_name_the_place() -> None:
    view = table(at=[1, "x"], size=[1, 2], box=7)
    assert view.lengths("at", "[x, y]", PLACE)[0] == 1.0
    assert all(math.isnan(value) for value in view.lengths("size", "[x, y, z]", SIZE))
    view.lengths("box", "[x, y]", PLACE)
    view.lengths("far", "[x, y]", PLACE)
    assert [line.removeprefix("job.toml: blank: ") for line in told(view)] == [
        'at[2]: "x" is not a length such as 6, "6 mm" or "1/4 in" (units: mm, cm, m, in, inch, ")',
        "size: 2 values where [x, y, z] should stand: 3 lengths",
        "box: 7 where [x, y] should stand: 2 lengths",
        "far: missing: give [x, y]",
    ]


def test_whole_numbers() -> None:
    view = table(a=4, b=4.0, c=4.5, d=0, e="4", f=True)
    assert [view.whole(key, (1, 9)) for key in "abcdef"] == [4, 4, 1, 1, 1, 1]
    assert told(view) == [
        "job.toml: blank: c: 4.5 must be a whole number from 1 to 9",
        "job.toml: blank: d: 0 must be a whole number from 1 to 9",
        'job.toml: blank: e: "4" is not a number: write a whole number, without quotes',
        "job.toml: blank: f: true is not a number: write a whole number, without quotes",
    ]


def test_flags_are_true_or_false() -> None:
    view = table(a=True, b=1)
    assert (view.flag("a", False), view.flag("b", False), view.flag("c", False)) == (
        True,
        None,
        False,
    )
    assert told(view) == ["job.toml: blank: b: 1 is not true or false: write b = true or false"]


def test_choices_suggest_the_nearest_word_and_answer_those_for_later() -> None:
    view = table(a="amber", b="ambre", c="smoke", d=3, e="zzz")
    assert view.choice("a", Colour) is Colour.AMBER
    for key in "bcdef":
        assert view.choice(key, Colour, later=("smoke",)) is None
    assert view.choice("g", Colour, Colour.CLEAR) is Colour.CLEAR
    assert [line.removeprefix("job.toml: blank: ") for line in told(view)] == [
        'b: "ambre" is not understood: did you mean "amber"?',
        'c: not yet: "smoke" comes with a later version; use "amber", "clear"',
        "d: 3 is not understood: known are amber, clear",
        'e: "zzz" is not understood: known are amber, clear',
        "f: missing: give one of amber, clear",
    ]


def test_texts_are_one_printable_line() -> None:
    view = table(a="brass & Öl – ✓", b="", c="a\nb", d=3, e="x" * 300, f="a\u202eb")
    assert view.text("a", "a name") == "brass & Öl – ✓"
    assert [view.text(key, "a name") for key in "bcdef"] == [""] * 5
    assert [line.removeprefix("job.toml: blank: ") for line in told(view)] == [
        "b: is empty: write something between the quotes",
        'c: "a\\nb" holds a control character: take it out',
        "d: 3 is not a text: give a name in quotes",
        "e: has 300 characters; at most 200 are read",
        'f: "a\\u202eb" holds a control character: take it out',
    ]


def test_foreign_keys() -> None:
    keys = Keys(
        now=("depth", "outline"),
        later={"finish": 0, "ledge": None, "hard": False},
        elsewhere={"side": 'do = "profile"'},
    )
    view = table(dept=1, side=1, finish=0.3, ledge={}, hard=True, depth=1)
    view.allow(keys)
    assert [line.removeprefix("job.toml: blank: ") for line in told(view)] == [
        'dept: unknown key: did you mean "depth"?',
        'side: belongs to do = "profile": leave it out here',
        "finish: not yet: 0.3 comes with a later version; use 0",
        "ledge: not yet: this key comes with a later version; leave it out",
        "hard: not yet: true comes with a later version; use false",
    ]


@pytest.mark.parametrize("value", [0, 0.0, -0.0, "0 mm", "0/4 in"])
def test_a_key_for_later_may_hold_what_changes_nothing(value: object) -> None:
    view = table(finish=value, hard=False)
    view.allow(Keys(now=(), later={"finish": 0, "hard": False}))
    assert not told(view)


@pytest.mark.parametrize("value", [False, "x", [0], 0.0001, math.nan])
def test_nothing_else_changes_nothing(value: object) -> None:
    view = table(finish=value)
    view.allow(Keys(now=(), later={"finish": 0}))
    assert len(told(view)) == 1 and "not yet" in told(view)[0]


def test_a_missing_table_is_one_fault_however_much_is_asked_of_it() -> None:
    view = table()
    nut = view.table("nut")
    nut.length("diameter", SIZE), nut.text("name", "a name"), nut.choice("colour", Colour)
    nut.lengths("at", "[x, y]", PLACE), nut.table("more"), nut.whole("count", (1, 2))
    assert told(view) == ["job.toml: blank: nut: missing: give this table"]


def test_entries_are_counted_from_one_and_named() -> None:
    top = Table(
        reading=Reading(file=Path("job.toml")),
        where="",
        values={"cut": [{"name": "rim"}, {}, 3, {"name": "a\n" + "b" * 100}], "piece": {}},
    )
    views = top.tables("cut")
    assert top.tables("clamp") == [] and top.tables("piece") == []
    assert [view.where for view in views] == [
        'cut[1] "rim"',
        "cut[2]",
        "cut[3]",
        'cut[4] "a\\n' + "b" * 58 + '…"',
    ]
    assert told(top) == [
        "job.toml: cut[3]: 3 is not a table: write [[cut]]",
        "job.toml: piece: a table where a list should stand: write [[piece]]",
    ]


def test_sizes_of_tables_and_arrays_are_limited() -> None:
    view = table(at=[1] * 10_001, **{f"k{n}": n for n in range(100)})
    view.allow(Keys(now=("at",)))
    assert view.array("at", "numbers") == []
    assert told(view) == [
        "job.toml: blank: has 101 keys; at most 100 are read",
        "job.toml: blank: at: has 10001 entries; at most 10000 are read",
    ]


def test_reading_stops_after_many_faults() -> None:
    reading = Reading(file=Path("job.toml"))
    with pytest.raises(FaultsError) as caught:
        for _ in range(MAX_FAULTS + 1):
            reading.fault("x", "wrong")
    assert len(caught.value.faults) == MAX_FAULTS + 1
    assert str(caught.value.faults[-1]) == (
        "job.toml: reading stopped after 1000 faults: mend these first"
    )

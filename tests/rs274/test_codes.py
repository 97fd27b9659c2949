import pytest

from toolpath.errors import ProgramError
from toolpath.rs274.codes import sort_words
from toolpath.rs274.words import split_line

# NISTIR 6556 table 4, modal groups.
G_GROUPS = {
    1: "G0 G1 G2 G3 G38.2 G80 G81 G82 G83 G84 G85 G86 G87 G88 G89",
    2: "G17 G18 G19",
    3: "G90 G91",
    5: "G93 G94",
    6: "G20 G21",
    7: "G40 G41 G42",
    8: "G43 G49",
    10: "G98 G99",
    12: "G54 G55 G56 G57 G58 G59 G59.1 G59.2 G59.3",
    13: "G61 G61.1 G64",
    0: "G4 G10 G28 G30 G53 G92 G92.1 G92.2 G92.3",
}
M_GROUPS = {
    4: "M0 M1 M2 M30 M60",
    6: "M6",
    7: "M3 M4 M5",
    8: "M7 M8 M9",
    9: "M48 M49",
}
UNDERSTOOD = [
    "G0",
    "G1",
    "G2",
    "G3",
    "G4",
    "G17",
    "G18",
    "G19",
    "G20",
    "G21",
    "G40",
    "G49",
    "G53",
    "G54",
    "G55",
    "G56",
    "G57",
    "G58",
    "G59",
    "G59.1",
    "G59.2",
    "G59.3",
    "G61",
    "G61.1",
    "G64",
    "G80",
    "G81",
    "G82",
    "G83",
    "G90",
    "G91",
    "G94",
    "G98",
    "G99",
    "M0",
    "M1",
    "M2",
    "M3",
    "M4",
    "M5",
    "M6",
    "M7",
    "M8",
    "M9",
    "M30",
    "M48",
    "M49",
]
IN_TABLES = [code for line in (*G_GROUPS.values(), *M_GROUPS.values()) for code in line.split()]


def block(text):
    return sort_words(split_line(text, 3))


def reason(text):
    with pytest.raises(ProgramError) as caught:
        block(text)
    assert caught.value.line == 3
    return caught.value.reason


@pytest.mark.parametrize("code", UNDERSTOOD)
def test_codes_understood(code):
    assert len(block(code).g) + len(block(code).m) == 1


@pytest.mark.parametrize("code", [code for code in IN_TABLES if code not in UNDERSTOOD])
def test_standard_codes_that_cannot_be_judged(code):
    assert f"{code} cannot be judged: " in reason(code)


# NISTIR 6556 tables 5 and 7 do not have these.
@pytest.mark.parametrize(
    "code",
    [
        "G5",
        "G7",
        "G8",
        "G33",
        "G38.3",
        "G41.1",
        "G43.1",
        "G50",
        "G51",
        "G70",
        "G71",
        "G73",
        "G74",
        "G76",
        "G95",
        "G96",
        "G97",
        "G90.1",
        "G1.5",
        "G100",
        "G-1",
        "M10",
        "M19",
        "M98",
        "M99",
        "M100",
        "M-3",
        "M3.5",
    ],
)
def test_codes_outside_the_standard(code):
    reason(code)


@pytest.mark.parametrize(
    "group", [line.split() for line in (*G_GROUPS.values(), *M_GROUPS.values())], ids=str
)
def test_two_of_one_group_on_a_line(group):
    # NISTIR 6556 3.3.5.
    known = [code for code in group if code in UNDERSTOOD]
    for first in known:
        for second in known:
            assert "one modal group" in reason(f"{first} {second}")


def test_codes_of_different_groups_stand_together():
    found = block("G17 G21 G90 G94 G54 G40 G49 G80 G61 G98")
    assert len(found.g) == 10


@pytest.mark.parametrize("same", ["G1", "G01", "G001", "G1.0", "G1.00005", "G+1"])
def test_a_code_may_be_written_in_many_ways(same):
    # NISTIR 6556 3.3.2.1: leading zeros; whole within 0.0001.
    assert block(same).g == block("G1").g


@pytest.mark.parametrize("code", ["G1.0002", "M3.0002", "G1.05"])
def test_a_code_that_is_not_whole(code):
    # NISTIR 6556 3.3.2.1.
    reason(code)

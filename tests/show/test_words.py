import pytest

from toolpath.check.report import Closest, Code, Finding, Part
from toolpath.show.words import (
    Lengths,
    closest_words,
    duration,
    plain,
    refused_words,
    shorten,
    slug,
)
from toolpath.units import Unit

MM, INCH = Lengths(unit=Unit.MM), Lengths(unit=Unit.INCH)


def finding(**keys) -> Finding:
    return Finding(code=Code.PIECE, message="", **keys)


def test_a_gap_is_never_rounded_up_and_a_need_never_down():
    assert MM.gap(1.0199) == "1.01 mm"
    assert MM.need(1.0201) == "1.03 mm"
    assert MM.gap(1.02) == "1.02 mm"
    assert MM.need(1.02) == "1.02 mm"
    assert INCH.gap(25.4 * 0.0409) == "0.04 in (1.03 mm)"
    assert INCH.need(25.4 * 0.0401) == "0.041 in (1.02 mm)"


def test_inch_jobs_get_millimetres_in_brackets():
    # 1 in = 25.4 mm exactly (1959 agreement).
    assert INCH.show(25.4) == "1 in (25.4 mm)"
    assert INCH.feed(1270) == "50 in/min (1270 mm/min)"
    assert MM.show(12.3456) == "12.35 mm"
    assert MM.feed(1200) == "1200 mm/min"
    assert MM.area(3.14159) == "3.1 mm²"
    assert INCH.area(645.16) == "1 in² (645.2 mm²)"


def test_numbers_have_no_minus_nought_and_no_trailing_zeros():
    assert MM.show(-0.0001) == "0 mm"
    assert MM.show(10.0) == "10 mm"
    assert MM.show(100.0) == "100 mm"


def test_refused_words():
    near = finding(piece="pebble 3", gap=0.2, needed=1.02)
    assert refused_words(near, MM) == "REFUSED: pebble 3, 0.2 mm left, 1.02 needed"
    inside = finding(piece="pebble 3", gap=0.0, needed=1.02)
    assert refused_words(inside, MM) == "REFUSED: pebble 3, 0 mm left, 1.02 needed"
    rapid = Finding(code=Code.RAPID_IN_STOCK, message="")
    assert refused_words(rapid, MM) == "REFUSED: rapid in material"


def test_closest_words():
    at = (0.0, 0.0, 0.0)
    close = Closest(piece="cog", gap=1.259, at=at, at_program=at, line=1, part=Part.NUT)
    assert closest_words(close, 1.02, MM) == "cog, 1.25 mm left, 1.02 needed"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(39.2, "40 s"), (60, "1 min 00 s"), (750, "12 min 30 s"), (3901, "1 h 06 min")],
)
def test_durations(seconds, words):
    assert duration(seconds) == words


def test_plain_text_keeps_letters_and_drops_what_is_none():
    assert plain("Kiesel ü 石 🪨") == "Kiesel ü 石 🪨"
    assert plain("a\tb\nc\u2028d") == "a b c d"
    assert plain("a\x00\x1b[2J\ud800\u202eb") == "a\ufffd\ufffd[2J\ufffd\ufffdb"


def test_shorten_and_slug():
    assert shorten("a" * 30, 10) == "a" * 9 + "…"
    assert shorten("short", 10) == "short"
    assert slug('Dial recess "A"/../2') == "dial-recess-a-2"
    assert slug("石") == "cut"
    assert len(slug("x" * 300)) == 40

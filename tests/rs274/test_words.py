import pytest
from hypothesis import given
from hypothesis import strategies as st

from toolpath.errors import ProgramError
from toolpath.rs274.habits import Habit
from toolpath.rs274.words import split_line


def words(text):
    return [(word.letter, word.value) for word in split_line(text, 1).words]


def reason(text):
    with pytest.raises(ProgramError) as caught:
        split_line(text, 7)
    assert caught.value.line == 7
    return caught.value.reason


def test_a_line_may_have_256_characters():
    # NISTIR 6556 3.3: 256 characters at most.
    assert words("G1 X1" + " " * 251) == [("G", 1.0), ("X", 1.0)]
    assert "256" in reason("G1 X1" + " " * 252)


def test_blanks_mean_nothing_even_inside_numbers():
    # NISTIR 6556 3.3 gives this pair.
    assert words("g0x +0. 12 34y 7") == words("g0 x+0.1234 y7")
    assert words("g0x +0. 12 34y 7") == [("G", 0.0), ("X", 0.1234), ("Y", 7.0)]


def test_letter_case_means_nothing():
    # NISTIR 6556 3.3.
    assert words("g1x3") == words("G1X3")


@pytest.mark.parametrize("text", ["", "   ", "\t", "(only a comment)", "()"])
def test_lines_without_words(text):
    assert words(text) == []


@pytest.mark.parametrize(("text", "label"), [("N0", 0), ("N00009 G1", 9), ("n 9 9 9 9 9", 99999)])
def test_line_numbers(text, label):
    # NISTIR 6556 3.3.1.
    assert split_line(text, 1).label == label


@pytest.mark.parametrize("text", ["N-1 G1", "N1.0 G1", "N+1", "N1."])
def test_wrong_line_numbers(text):
    # NISTIR 6556 3.3.1: unsigned digits.
    assert "line number" in reason(text)


@pytest.mark.parametrize("text", ["N000009 G1", "N100000 G1", "N" + "9" * 250])
def test_long_line_numbers_are_a_habit(text):
    # NISTIR 6556 3.3.1: at most five digits, 000009 has six; longer ones are common practice.
    assert split_line(text, 1).habits == (Habit.LONG_LABEL,)
    assert split_line("N99999 G1", 1).habits == ()


@pytest.mark.parametrize("text", ["G1 N10 X1", "(note) N10 G1", "N1 N2"])
def test_a_line_number_stands_at_the_start(text):
    # NISTIR 6556 3.3, appendix E.2.
    assert "(N)" in reason(text)


def test_block_delete_stands_at_the_start():
    # NISTIR 6556 3.3: optional "/", optional N, then words.
    assert split_line(" / N10 G1 X1", 1).deleted
    assert not split_line("N10 G1 X1", 1).deleted
    assert "word should begin" in reason("N10 / G1")
    assert "word should begin" in reason("(a) / G1")


@pytest.mark.parametrize("letter", "EOUVW")
def test_letters_that_start_no_word(letter):
    # NISTIR 6556 table 3.
    assert f"{letter} starts no word" in reason(f"{letter}1000")


@pytest.mark.parametrize("letter", "ABCDFHIJKLPQRSTXYZ")
def test_letters_that_start_a_word_stand_once(letter):
    # NISTIR 6556 table 3 and 3.3.5.
    assert words(f"{letter}1") == [(letter, 1.0)]
    assert f"{letter} twice" in reason(f"{letter}1 G1 {letter}1")


def test_four_m_words_and_no_more():
    # NISTIR 6556 3.3.5.
    assert len(words("M0 M6 M3 M7")) == 4
    assert "5 M words" in reason("M0 M6 M3 M7 M48")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        (".5", 0.5),
        ("5.", 5.0),
        ("+5", 5.0),
        ("-.5", -0.5),
        ("007.500", 7.5),
        ("-0", 0.0),
        ("0.12345678901234567", 0.12345678901234567),
    ],
)
def test_numbers(text, value):
    # NISTIR 6556 3.3.2.1; about 17 significant figures are kept.
    assert words(f"X{text}") == [("X", value)]


@pytest.mark.parametrize(
    "text", ["X.", "X", "X-", "X1.2.3", "X1-2", "X--1", "X1e3", "X1E-05", "X1,5", "X٣", "X½"]
)
def test_what_is_no_number(text):
    # NISTIR 6556 3.3.2.1: no exponent, one point, a digit somewhere.
    reason(text)


@pytest.mark.parametrize("text", ["X1" + "0" * 200, "X10000000", "Y-99999999"])
def test_numbers_out_of_all_reason(text):
    assert "too large" in reason(text)


@pytest.mark.parametrize(
    "text", ["#3=15", "G1 X#3", "X[1+1]", "X SIN[30]", "%", "G1 % X1", ")", "G1 ) X1"]
)
def test_what_is_not_read(text):
    reason(text)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("#3=15", "parameter"),
        ("G1 X#3", "parameter"),
        ("G1 X-#3", "parameter"),
        ("X[1+1]", "expression"),
        ("X SIN[30]", "expression"),
        ("X1E-05", "exponent"),
        ("G1 X", "X without a number"),
        ("G1 X-", "X without a number"),
    ],
)
def test_why_it_is_not_read(text, word):
    assert word in reason(text)


def test_comments_may_stand_anywhere_between_words():
    # NISTIR 6556 3.3.4, 3.3.6.
    assert words("(a) G1 (b; c) X1 (MSG, d) Y2 (e)") == [("G", 1.0), ("X", 1.0), ("Y", 2.0)]


@pytest.mark.parametrize(
    "text",
    ["(open", "G1 (a (b) c)", "G1 (a (b) X1", "G1 X1 (a\x07)", "G1 (a\x00)", "(a\x0b)"],
)
def test_wrong_comments(text):
    # NISTIR 6556 3.3.4: closed on the line, not nested, printable. Whether the words after a
    # nested one run differs, also where they would make a line.
    reason(text)


def test_a_comment_does_not_join_what_it_parts():
    reason("X1 (a) 2")
    reason("X (a) 1")


def test_comments_may_hold_any_language():
    assert words("G1 (Übermaß 3 µm) X1") == [("G", 1.0), ("X", 1.0)]


@pytest.mark.parametrize("text", ["G1 X1 ı2", "Ｇ1", "G1\xa0X1", "G1 X1\x85", "G1 X1\u2028", "ß1"])
def test_other_alphabets_outside_comments(text):
    assert "outside a comment" in reason(text)


@pytest.mark.parametrize("text", ["G1\x0bX1", "G1 X1\x0c", "G1\x1fX1", "G1\x7f", "\x1a"])
def test_control_characters(text):
    assert "control" in reason(text)


def test_a_semicolon_begins_a_comment():
    # Not in the standard: a common habit of small controllers, common practice, no source.
    line = split_line("G1 X1 ; (open, Z-50 ) # é", 1)
    assert line.habits == (Habit.SEMICOLON,)
    assert [word.text for word in line.words] == ["G1", "X1"]


@given(st.text(alphabet="GMXYZNIJRFSTgx0123456789.+- \t()/;#%[]eOé\n", max_size=40))
def test_every_line_is_read_whole_or_refused(text):
    try:
        line = split_line(text, 1)
    except ProgramError:
        return
    assert "\n" not in text.split(";")[0]
    bare = text.split(";")[0]
    while "(" in bare:
        before, _, after = bare.partition("(")
        bare = before + after.partition(")")[2]
    bare = "".join(bare.split()).upper().removeprefix("/")
    told = "".join(word.text for word in line.words)
    assert bare.endswith(told)
    label = bare.removesuffix(told)
    assert (label == "") == (line.label is None)
    assert label == "" or int(label.removeprefix("N")) == line.label

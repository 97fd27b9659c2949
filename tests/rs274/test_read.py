import tempfile
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from toolpath.errors import ProgramError
from toolpath.rs274.read import read_program, read_program_file
from toolpath.units import Unit

BODY = "G17 G21 G90 G94 G54 M3 S900\nG0 X1 Y2 Z3\n"


def read(text):
    return read_program(text, unit=Unit.MM)


@pytest.mark.parametrize("end", ["M2", "M30", "m 30", "G0 X5 M2"])
def test_a_program_may_end_in_a_word(end):
    # NISTIR 6556 3.1, 3.6.1.
    assert read(f"{BODY}{end}\n").lines == 3


@pytest.mark.parametrize("fence", ["%", " %\t", "% "])
def test_a_program_may_stand_between_two_percent_lines(fence):
    # NISTIR 6556 3.1: then M2 and M30 may be absent, and what follows the second is ignored.
    program = read(f"\n \n{fence}\n{BODY}{fence}\nrubbish #1 ) Z-50\n")
    assert len(program.moves) == 1
    assert program.lines == 7
    assert program.notes == ()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\n\n",
        BODY,
        f"(title)\n{BODY}",
        f"%\n{BODY}",
        "%",
        f"{BODY}G0 X12.5\nM",
        f"{BODY}G0 X1",
        f"{BODY}M3",
    ],
)
def test_a_program_without_an_end_may_be_cut_off(text):
    # NISTIR 6556 3.1: neither M2, M30 nor a pair of %; or a first % without a second.
    with pytest.raises(ProgramError, match=r"cut off|M without a number"):
        read(text)


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        (f"%\n{BODY}M2\n", 1, "at the start and none at the end"),
        (f"\n%\n{BODY}M30", 2, "at the start and none at the end"),
        (f"{BODY}M2\n%\n", 4, "at the end and none at the start"),
        (f"{BODY}%\n \n", 3, "at the end and none at the start"),
    ],
)
def test_a_lone_percent_is_a_habit(text, line, word):
    # NISTIR 6556 3.1 wants two or none; one is common practice and hides nothing.
    program = read(text)
    assert len(program.moves) == 1
    ((note_line, message),) = [(note.line, note.message) for note in program.notes]
    assert (note_line, word in message) == (line, True)


@pytest.mark.parametrize("text", [f"{BODY}%\nM2\n", f"(a)\n%\n{BODY}%\n", f"%\n{BODY}% G0\n%\n"])
def test_percent_elsewhere(text):
    # NISTIR 6556 3.1: the first line that is not blank, alone on it.
    with pytest.raises(ProgramError):
        read(text)


def test_an_end_word_and_two_percent_lines():
    # NISTIR 6556 3.1: both may be there.
    program = read(f"%\n{BODY}M30\n\n%\n")
    assert len(program.moves) == 1
    assert program.notes == ()


def test_nothing_runs_after_the_end():
    # NISTIR 6556 3.1: lines after M2 or M30 are not executed.
    program = read(f"{BODY}G0 X5 M30\nG1 Z-50 F100\nrubbish\n")
    assert program.moves.end.tolist() == [[1, 2, 3], [5, 2, 3]]
    assert [note.message for note in program.notes] == [
        "2 lines after the end of the program, which do not run"
    ]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(end):
    # NISTIR 6556 3.3: carriage return, line feed or both.
    program = read((BODY + "G0 Z9\nM2\n").replace("\n", end))
    assert program.moves.line.tolist() == [2, 3]
    assert program.lines == 4


def test_a_file_may_carry_a_byte_order_mark_and_comments_in_any_encoding(tmp_path):
    file = tmp_path / "a.nc"
    file.write_bytes(b"\xef\xbb\xbf" + BODY.replace("\n", "\r\n").encode() + b"M2")
    assert read_program_file(file, unit=Unit.MM).lines == 3
    file.write_bytes(BODY.encode() + b"(\xe9t\xe9)\nM2\n")
    assert len(read_program_file(file, unit=Unit.MM).moves) == 1


@pytest.mark.parametrize(
    "data",
    [
        b"G0 X1\x00\nM2\n",
        BODY.encode("utf-16"),
        BODY.encode() + b"G0 X\xb2\nM2\n",
        BODY.encode() + "G0 X１\nM2\n".encode(),
        bytes(range(256)),
    ],
)
def test_what_is_not_plain_text(tmp_path, data):
    file = tmp_path / "a.nc"
    file.write_bytes(data)
    with pytest.raises(ProgramError):
        read_program_file(file, unit=Unit.MM)


def test_a_file_that_cannot_be_read(tmp_path):
    with pytest.raises(ProgramError, match="cannot be read"):
        read_program_file(tmp_path / "none.nc", unit=Unit.MM)
    with pytest.raises(ProgramError, match="cannot be read"):
        read_program_file(tmp_path, unit=Unit.MM)


def test_a_file_that_is_too_large(tmp_path, monkeypatch):
    monkeypatch.setattr("toolpath.rs274.read.BYTES_LIMIT", 20)
    monkeypatch.setattr("toolpath.rs274.lines.LINES_LIMIT", 2)
    file = tmp_path / "a.nc"
    file.write_text(BODY)
    with pytest.raises(ProgramError, match="20 is the most"):
        read_program_file(file, unit=Unit.MM)
    with pytest.raises(ProgramError, match="more than 2 lines"):
        read(f"{BODY}M2\n")


@pytest.mark.parametrize(
    "line",
    ["/ G0 X5", "/N10 G0 Z9", "/M5", "/G91", "/G20", "/F5", "/M2", "/T1", "/G18", "/G99"],
)
def test_a_line_that_a_switch_may_skip(line):
    # NISTIR 6556 2.2.2: its meaning depends on the block delete switch.
    with pytest.raises(ProgramError, match="switch") as caught:
        read(f"{BODY}{line}\nM2\n")
    assert (caught.value.line, caught.value.text) == (3, line)


@pytest.mark.parametrize("line", ["/", "/ (comment)", "/N10"])
def test_an_empty_line_that_a_switch_may_skip(line):
    assert len(read(f"{BODY}{line}\nM2\n").moves) == 1


@pytest.mark.parametrize("line", ["/M8", "/M1", "/G4 P2", "/G90", "/M3 S900", "/G54 M48"])
def test_a_line_that_may_run_or_not_without_a_difference(line):
    # NISTIR 6556 2.2.2: run or skipped, the moves are the same.
    program, without = read(f"{BODY}{line}\nG0 X3\nM2\n"), read(f"{BODY}G0 X3\nM2\n")
    assert program.moves.end.tolist() == without.moves.end.tolist()
    assert [note.message.split(",")[0] for note in program.notes] == ["a line with /"]


def test_semicolons_are_noted_with_their_number():
    program = read(f"; title\n{BODY}G0 X4 ; there\nM2 ; end\n")
    assert [(note.line, note.message) for note in program.notes] == [
        (1, "a semicolon, which the standard has not: read as a comment (3 times)")
    ]


def test_an_error_shows_nothing_that_a_terminal_obeys():
    with pytest.raises(ProgramError) as caught:
        read("G0 X1 \x1b[31m\x9b2J\u202e\nM2\n")
    assert str(caught.value).isprintable()


def test_the_error_tells_line_word_and_reason():
    with pytest.raises(ProgramError) as caught:
        read(f"{BODY}G28 Z0\nM2\n")
    assert str(caught.value) == (
        "line 3: G28 cannot be judged: it moves to a place that is stored in the machine "
        'and not in the program in "G28 Z0"'
    )


@pytest.mark.parametrize(
    "data",
    [
        b"x" * 100_000_000,
        b"(" * 100_000_000,
        b"\0" * 10_000_000,
        BODY.encode() + b"G1 X" + b"1" * 50_000_000,
        BODY.encode() + "ü".encode() * 10_000_000,
    ],
    ids=["letters", "comments", "nothing", "a number", "no ASCII"],
)
def test_an_endless_line_ends_in_an_error_and_is_not_held(tmp_path, data):
    # NISTIR 6556 3.3: 256 characters at most.
    file = tmp_path / "a.nc"
    file.write_bytes(data)
    tracemalloc.start()
    with pytest.raises(ProgramError) as caught:
        read_program_file(file, unit=Unit.MM)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert "256" in caught.value.reason or "control" in caught.value.reason
    assert caught.value.line in (1, 3)
    assert peak < 2_000_000


def test_a_line_of_256_letters_of_two_bytes_fits(tmp_path):
    # NISTIR 6556 3.3: characters are counted, not bytes.
    file = tmp_path / "a.nc"
    file.write_text(f"({'ü' * 254})\r\n{BODY}M2\r\n", encoding="utf-8")
    assert len(read_program_file(file, unit=Unit.MM).moves) == 1
    file.write_text(f"({'ü' * 255})\r\n{BODY}M2\r\n", encoding="utf-8")
    with pytest.raises(ProgramError, match="256"):
        read_program_file(file, unit=Unit.MM)


def test_an_endless_line_after_the_end_is_one_line():
    program = read(f"{BODY}M2\n{'x' * 1000}\n\n")
    assert program.lines == 5
    assert program.notes[0].message.startswith("1 lines after the end")
    with pytest.raises(ProgramError, match="not text") as caught:
        read(f"{BODY}M2\nab\0\n")
    assert caught.value.line == 4


@given(st.binary(max_size=300))
def test_bytes_are_read_or_refused(data):
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "a.nc"
        file.write_bytes(data)
        _read_or_refused(lambda: read_program_file(file, unit=Unit.MM))


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused(text):
    _read_or_refused(lambda: read(text))


WORDS = st.builds(
    lambda letter, number: letter + number,
    st.sampled_from("GMXYZIJKRFPQLSTNAHDgx/;(%#"),
    st.one_of(
        st.integers(-5, 100).map(str),
        st.sampled_from(["0", "1", "2", "3", "81", "82", "83", "53", "1e9", ".", "-.5", "9" * 30]),
        st.decimals(-30, 30, places=3).map(str),
    ),
)


@given(st.lists(st.lists(WORDS, max_size=6).map(" ".join), max_size=12).map("\n".join))
def test_anything_like_a_program_is_read_or_refused(text):
    _read_or_refused(lambda: read(f"{BODY}F100\n{text}\nM2\n"))


def _read_or_refused(reading):
    """Either moves whose finite numbers are finite, or an error with its reason."""
    try:
        program = reading()
    except ProgramError as error:
        assert error.reason
        str(error).encode("utf-8")
        return
    assert len(program.moves) <= 10_000
    assert not np.isinf(program.moves.end).any()

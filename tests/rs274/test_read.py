import pytest

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
        f"%\n{BODY}M2\n",
        f"%\n{BODY}M2\nG0 X1\n",
        "%",
    ],
)
def test_a_program_without_an_end_may_be_cut_off(text):
    # NISTIR 6556 3.1: neither M2, M30 nor a pair of %; or a first % without a second.
    with pytest.raises(ProgramError, match="cut off"):
        read(text)


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
    monkeypatch.setattr("toolpath.rs274.read.LINES_LIMIT", 2)
    file = tmp_path / "a.nc"
    file.write_text(BODY)
    with pytest.raises(ProgramError, match="20 is the most"):
        read_program_file(file, unit=Unit.MM)
    with pytest.raises(ProgramError, match="3 lines"):
        read(f"{BODY}M2\n")


@pytest.mark.parametrize("line", ["/ G1 X5", "/N10 G0 Z9", "/M5"])
def test_a_line_that_a_switch_may_skip(line):
    # NISTIR 6556 2.2.2: its meaning depends on the block delete switch.
    with pytest.raises(ProgramError, match="switch") as caught:
        read(f"{BODY}{line}\nM2\n")
    assert (caught.value.line, caught.value.text) == (3, line)


@pytest.mark.parametrize("line", ["/", "/ (comment)", "/N10"])
def test_an_empty_line_that_a_switch_may_skip(line):
    assert len(read(f"{BODY}{line}\nM2\n").moves) == 1


def test_semicolons_are_noted_once():
    program = read(f"; title\n{BODY}G0 X4 ; there\nM2 ; end\n")
    assert [(note.line, note.message) for note in program.notes] == [
        (1, "a semicolon, which the standard has not: read as a comment")
    ]


def test_the_error_tells_line_word_and_reason():
    with pytest.raises(ProgramError) as caught:
        read(f"{BODY}G28 Z0\nM2\n")
    assert str(caught.value) == (
        "line 3: G28 cannot be judged: it moves to a place that is stored in the machine "
        'and not in the program in "G28 Z0"'
    )

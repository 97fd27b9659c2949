import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from toolpath.rs274 import lines as module
from toolpath.rs274.lines import Lines


def by_python(data):
    """The lines as Python's own text reader has them: any line ends, UTF-8, a byte order mark."""
    text = io.TextIOWrapper(io.BytesIO(data), encoding="utf-8-sig", errors="toolpath-latin-1")
    return [line.removesuffix("\n")[: module._READ] for line in text]


PIECES = st.sampled_from([b"a", b"\n", b"\r", b"\r\n", "ü".encode(), b"\xe2\x82", b"\xef\xbb\xbf"])


@given(st.lists(PIECES, max_size=40).map(b"".join), st.integers(4, 20))
def test_lines_are_those_of_python(data, piece):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "_PIECE", piece)
        found = list(Lines(io.BytesIO(data)))
    assert [text for _, text in found] == by_python(data)
    assert [number for number, _ in found] == list(range(1, len(found) + 1))


@pytest.mark.parametrize("end", [b"\n", b"\r", b"\r\n"])
@pytest.mark.parametrize("size", [256, 257, 258, 259, 1031, 1032, 1033, 5000])
@pytest.mark.parametrize("letter", [b"x", "ü".encode(), "😀".encode(), b"\xff"])
def test_long_lines_are_cut(monkeypatch, end, size, letter):
    monkeypatch.setattr(module, "_PIECE", 64)
    data = b"G0\n" + letter * size + end + b"G1" + end + letter * size
    assert [text for _, text in Lines(io.BytesIO(data))] == by_python(data)

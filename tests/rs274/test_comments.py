import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from toolpath.rs274.comments import comment_lines


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("Cut control cavity", ["(Cut control cavity)"]),
        ("x) G0 Z-50 (", ["(x G0 Z-50)"]),
        ("a\nG0 Z-50\r\nM3", ["(a G0 Z-50 M3)"]),
        ("a ; b # c [d] %", ["(a b c d)"]),
        ("Treibholz, größer: 3 µm", ["(Treibholz, gro er 3 m)"]),
        ("café", ["(cafe)"]),
        ("（wide） brackets", ["(wide brackets)"]),
        ("MSG, hello", ["(M-S-G, hello)"]),
        ("m s g , hello", ["(M-S-G , hello)"]),
        ("msgmsg", ["(M-S-GM-S-G)"]),
        ("1/4 + 2=3.5", ["(1/4 + 2=3.5)"]),
        ("", []),
        ("Ж()", []),
    ],
)
def test_text_made_fit(text, lines):
    assert comment_lines(text) == lines


def test_long_text_is_wrapped_and_then_cut():
    lines = comment_lines("driftwood beside the cog " * 30)
    assert len(lines) == 4
    assert lines[0] == "(driftwood beside the cog driftwood beside the)"
    assert comment_lines("x" * 49) == [f"({'x' * 46})", "(xxx)"]


@given(st.text(max_size=200))
def test_nothing_leaks(text):
    # NISTIR 6556 3.3.4; 50 letters at most is common practice, no source.
    for line in comment_lines(text):
        assert re.fullmatch(r"\([A-Za-z0-9 .,+/=-]{1,50}\)", line)
        assert "msg" not in line.lower()
        assert not line.lower().replace(" ", "").startswith("(msg,")

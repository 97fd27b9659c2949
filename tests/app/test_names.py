"""File names of programs: lower-case letters, digits and hyphens (the contract)."""

import re

from hypothesis import given
from hypothesis import strategies as st

from toolpath.app.names import program_name
from toolpath.job.model import Side


def test_names_read_well() -> None:
    assert program_name(1, Side.FRONT, "flat 6") == "01-front-flat-6.nc"
    assert program_name(12, Side.BACK, "1/4 in Ball, up-cut") == "12-back-1-4-in-ball-up-cut.nc"
    assert program_name(2, Side.FRONT, "Fräser Ø6") == "02-front-fraser-6.nc"
    assert program_name(3, Side.FRONT, "铣刀") == "03-front-cutter.nc"


@given(st.text())
def test_any_name_gives_a_plain_file_name(name: str) -> None:
    assert re.fullmatch(r"\d\d-back-[a-z0-9]+(-[a-z0-9]+)*\.nc", program_name(3, Side.BACK, name))

"""File names of programs: lower-case letters, digits and hyphens (the contract)."""

import re

from hypothesis import given
from hypothesis import strategies as st

from toolpath.app.names import face_word, program_name, short_code
from toolpath.job.model import Side


def test_names_read_well() -> None:
    assert program_name(1, "front", "flat 6") == "01-front-flat-6.nc"
    assert program_name(12, "back", "1/4 in Ball, up-cut") == "12-back-1-4-in-ball-up-cut.nc"
    assert program_name(2, "front", "Fräser Ø6") == "02-front-fraser-6.nc"
    assert program_name(3, "front", "铣刀") == "03-front-cutter.nc"


@given(st.text())
def test_any_name_gives_a_plain_file_name(name: str) -> None:
    assert re.fullmatch(r"\d\d-back-[a-z0-9]+(-[a-z0-9]+)*\.nc", program_name(3, "back", name))


def test_a_plate_is_named_for_itself() -> None:
    assert face_word(Side.FRONT, plate=True) == "plate"
    assert face_word(Side.BACK, plate=False) == "back"
    assert program_name(7, "plate", "flat 3") == "07-plate-flat-3.nc"


def test_codes_tell_texts_apart() -> None:
    codes = {short_code(f"G1 X{place}") for place in range(2000)}
    # By chance two of 2,000 texts share one of 24^5 codes in about one case of four.
    assert len(codes) >= 1999
    assert short_code("G1 X1") == short_code("G1 X1") != short_code("G1 X2")
    assert all(re.fullmatch("[A-Z3-9]{5}", code) for code in codes)

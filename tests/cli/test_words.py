"""Lines for a person at a terminal."""

from toolpath.check.report import Code, Finding
from toolpath.cli.words import CHECKED, finding_text, place


def test_a_finding_says_what_and_what_to_do() -> None:
    finding = Finding(code=Code.PIECE, message="cog, 0.2 mm left", mend="raise the floor")
    assert finding_text(finding) == "piece: cog, 0.2 mm left\n  mend: raise the floor"
    note = Finding(code=Code.TRAVEL, message="just so", refuses=False)
    assert finding_text(note) == "note: just so"


def test_no_promise_of_safety() -> None:
    assert "safe" not in CHECKED.lower()
    assert "not seen" in CHECKED


def test_places() -> None:
    assert place((1.0, -2.5, 3.14159)) == "X1.00 Y-2.50 Z3.14"

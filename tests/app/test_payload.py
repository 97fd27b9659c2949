"""JSON as the contract of the commands has it."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from toolpath.app.draft import draft
from toolpath.app.load import load_job
from toolpath.app.payload import of_faults, of_report, of_scene, to_text
from toolpath.app.progress import silent
from toolpath.app.publish import fresh
from toolpath.check.report import Code, Finding, Part, Report, Verdict
from toolpath.errors import Fault


@pytest.fixture
def scene(write_job, tmp_path):
    job = load_job(write_job(("tray", [10, 10, 30, 30]), ("deep", [70, 30, 100, 60], 7.5)))
    with fresh(tmp_path / "out") as made:
        return draft(job, made, silent)


def plain(value) -> bool:
    """Whether a value holds nothing but what JSON knows, numpy's own numbers left out."""
    if isinstance(value, dict):
        return all(type(key) is str and plain(each) for key, each in value.items())
    if isinstance(value, list):
        return all(plain(each) for each in value)
    if type(value) is float:
        return math.isfinite(value)
    return value is None or type(value) in (str, int, bool)


def test_a_plan_has_the_keys_of_the_contract(scene) -> None:
    payload = of_scene(scene, written=True)
    assert {"verdict", "cuts", "programs"} <= set(payload)
    tray, deep = payload["cuts"]
    keys = {"name", "face", "verdict", "closest", "floor", "uncut_area_mm2", "seconds"}
    assert keys <= set(tray)
    assert (tray["name"], tray["face"], tray["verdict"], tray["floor"]) == (
        "tray",
        "front",
        "clear",
        4.0,
    )
    assert (payload["verdict"], deep["verdict"]) == ("refused", "refused")
    assert {"piece", "gap", "at"} <= set(deep["closest"])
    assert deep["closest"]["piece"] == "pebble"
    # The tip in the blank frame: 7.5 below the front, half a millimetre over the pebble's top.
    assert deep["closest"]["at"][2] == -7.5
    assert deep["closest"]["gap"] == pytest.approx(0.5, abs=0.002)
    (program,) = payload["programs"]
    assert {"file", "face", "cutter", "lines", "seconds", "bounds"} <= set(program)
    assert program["file"] == "01-front-flat-6.nc"
    low, high = program["bounds"]
    assert (low[2], low[0]) == pytest.approx((-7.5, 13.0), abs=0.01)
    assert high[0] == pytest.approx(97.0, abs=0.01)
    assert plain(payload)


def test_nothing_is_said_of_programs_that_were_not_written(scene) -> None:
    assert of_scene(scene, written=False)["programs"] == []


def test_a_refusal_is_said_and_only_there(scene) -> None:
    program = scene.programs[0]
    cuts = (replace(program.cuts[0], refusal="no way in", closest=None), *program.cuts[1:])
    told = replace(scene, programs=(replace(program, cuts=cuts),))
    first, second = of_scene(told, written=True)["cuts"]
    assert first["refusal"] == "no way in"
    assert first["closest"] is None
    assert "refusal" not in second


def test_a_report_has_the_keys_of_the_contract(scene) -> None:
    report = scene.programs[0].report
    payload = of_report(report)
    keys = {"verdict", "closest", "findings", "bounds", "feed_length", "rapid_length"}
    assert keys | {"arcs", "moves", "seconds"} <= set(payload)
    assert plain(payload)
    assert payload["moves"] == report.moves
    finding = next(f for f in payload["findings"] if f["refuses"])
    assert (finding["code"], finding["piece"], finding["part"]) == ("piece", "pebble", "flutes")
    assert json.loads(to_text(payload)) == payload


def test_numbers_are_python_s_own_and_never_minus_zero() -> None:
    finding = Finding(
        code=Code.PIECE,
        message="",
        part=Part.NUT,
        at=(np.float64(-1e-9), np.float64(2.1234567), -0.0),
        gap=np.float64(-0.0),
        needed=None,
    )
    report = Report(
        verdict=Verdict.REFUSED,
        findings=(finding,),
        closest=None,
        closest_by_line={},
        bounds=None,
        feed_length=np.float64(1.0),
        rapid_length=0.0,
        arcs=0,
        moves=1,
        seconds=0.0,
        pieces_checked=0,
    )
    payload = of_report(report)
    assert plain(payload)
    assert "-0.0" not in to_text(payload)
    (row,) = payload["findings"]
    assert row["at"] == [0.0, 2.123457, 0.0]
    assert (row["at_program"], row["needed"], payload["bounds"]) == (None, None, None)
    assert row["part"] == "nut"


def test_text_is_ascii_without_nan_and_ends_in_a_newline() -> None:
    text = to_text({"b": "jöb 田", "a": 1.5})
    assert text.isascii()
    assert text.endswith("}\n")
    assert text.index('"b"') < text.index('"a"')  # as they were put
    assert json.loads(text) == {"b": "jöb 田", "a": 1.5}
    for bad in (math.nan, math.inf):
        with pytest.raises(ValueError, match="JSON"):
            to_text({"gap": bad})


def test_faults() -> None:
    payload = of_faults([Fault(file="job.toml", where="cut[1]: depth", message="too deep")] * 2)
    assert payload["verdict"] == "wrong"
    row = {"file": "job.toml", "where": "cut[1]: depth", "message": "too deep"}
    assert payload["faults"] == [row, row]

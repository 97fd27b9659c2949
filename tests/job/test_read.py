import math
import os
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from toolpath.errors import FaultsError
from toolpath.job.limits import MAX_JOB_BYTES
from toolpath.job.model import Job
from toolpath.job.read import read_job, require_cuts
from toolpath.units import Unit


def test_a_whole_job(alarms, read, clock) -> None:
    job = read(clock)
    assert (job.name, job.unit, job.file) == ("wall clock", Unit.MM, Path("job.toml"))
    assert [cut.name for cut in job.cuts] == ["works", "spindle hole", "minute ring"]
    assert [piece.name for piece in job.pieces] == ["cog", "pebble"]
    assert list(job.sources) == [Path("job.toml")] and alarms(job) == []


@pytest.mark.parametrize("lead", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_byte_order_marks_and_line_ends_change_nothing(
    read, clock, tmp_path, lead: bytes, end: bytes
) -> None:
    text = clock.replace('"wall clock"', '"Wanduhr für Öl"').encode().replace(b"\n", end)
    (tmp_path / "job.toml").write_bytes(lead + text)
    assert read_job(tmp_path / "job.toml").name == "Wanduhr für Öl"


def test_pieces_clamps_and_cuts_may_be_absent(read, clock) -> None:
    job = read(clock.split("[[piece]]")[0])
    assert (job.pieces, job.clamps, job.cuts) == ((), (), ())
    with pytest.raises(FaultsError) as caught:
        require_cuts(job)
    assert str(caught.value) == "job.toml: cut: missing: a job to plan needs at least one [[cut]]"


def test_a_job_with_cuts_has_what_planning_needs(read, clock) -> None:
    require_cuts(read(clock))


def one(path: Path) -> str:
    with pytest.raises(FaultsError) as caught:
        read_job(path)
    (fault,) = caught.value.faults
    return str(fault).removeprefix(f"{path}: ")


def test_files_that_cannot_be_read(tmp_path, clock) -> None:
    path = tmp_path / "job.toml"
    assert one(path) == "there is no such file: check the name"
    assert one(tmp_path) == "is a folder: name the job file in it"
    assert one(tmp_path / ("x" * 300)).startswith("cannot be read: ")
    assert one(Path("a\0b")).startswith("cannot be read: ")
    path.write_bytes(clock.encode() + b"\n# caf\xe9\n")
    lines = clock.count("\n") + 2
    assert one(path) == f"line {lines}: is not UTF-8 text: save it as UTF-8"
    path.write_bytes(clock.encode("utf-16"))
    assert one(path) == "line 1: is not UTF-8 text: save it as UTF-8"
    path.write_text("#" * (MAX_JOB_BYTES + 1))
    assert one(path) == "has 5.0 MB; a job of at most 5 MB is read"
    path.unlink()
    os.mkfifo(path)
    assert one(path) == "is not a plain file: save the job in one"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("name = \n", "line 1: not valid TOML: Invalid value (column 8)"),
        ("\n\nname 3", "line 3: not valid TOML: Expected '=' after a key in a key/value pair "
         "(column 6)"),
        ("a = 1\na = 2", "line 2: not valid TOML: Cannot overwrite a value"),
        ('x = "', "line 1: not valid TOML: Unterminated string"),
        ("a = [1,\n2", "line 2: not valid TOML: Unclosed array"),
        ("[a", "line 1: not valid TOML: Expected ']' at the end of a table declaration"),
        ("a = " + "[" * 5000, "arrays or tables are nested too deeply: flatten them"),
        ("\n" + "a." * 30 + "a = 1",
         "line 2: words joined by more than 20 dots: shorten the key"),
        ("a = " + "9" * 5000, "holds a value that cannot be read: Exceeds the limit"),
    ],
)  # fmt: skip
def test_texts_that_are_no_toml(tmp_path, text: str, line: str) -> None:
    path = tmp_path / "job.toml"
    path.write_text(text)
    assert one(path).startswith(line)


def test_an_endless_key_ends_at_once(tmp_path) -> None:
    path = tmp_path / "job.toml"
    path.write_text("a." * 1_000_000 + "a = 1")
    assert "dots" in one(path)


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("", [
            "job.toml: units: missing: give one of mm, in",
            "job.toml: name: missing: give the name of the job",
            "job.toml: blank: missing: give this table",
            "job.toml: machine: missing: give this table",
            "job.toml: check: missing: give this table",
            "job.toml: cutter: missing: give at least one [[cutter]]",
        ]),
        ("blank = 3\nface = []\nmachine = 'x'\nunits = 'inch'\nname = 7\ncheck = 1\n"
         "cutter = {}\npiece = 3\nclamp = 'x'\ncut = [1]", [
            'job.toml: units: "inch" is not understood: did you mean "in"?',
            "job.toml: name: 7 is not a text: give the name of the job in quotes",
            "job.toml: blank: 3 is not a table: write [blank]",
            "job.toml: face: an array is not a table: write [face]",
            'job.toml: machine: "x" is not a table: write [machine]',
            "job.toml: check: 1 is not a table: write [check]",
            "job.toml: cutter: a table where a list should stand: write [[cutter]]",
            "job.toml: piece: 3 where a list should stand: write [[piece]]",
            'job.toml: clamp: "x" where a list should stand: write [[clamp]]',
            "job.toml: cut[1]: 1 is not a table: write [[cut]]",
        ]),
    ],
)  # fmt: skip
def test_jobs_with_hardly_anything_in_them(faults, text: str, lines: list[str]) -> None:
    assert faults(text) == lines


def test_what_later_versions_bring_and_what_nobody_knows(faults, clock) -> None:
    text = f"plate = []\npour = {{}}\nmachin = 1\n{clock}\nengage = 70"
    assert faults(text.replace("safe_height", "canned_cycles = true\nsafe_height")) == [
        "job.toml: pour: unknown key: known are name, units, blank, face, machine, check, cutter, "
        "piece, clamp, cut, plate, pins, measured, order",
        'job.toml: machin: unknown key: did you mean "machine"?',
        "job.toml: machine: canned_cycles: not yet: true comes with a later version; use false",
        'job.toml: cut[3] "minute ring": engage: belongs to do = "pocket": leave it out here',
    ]


def test_every_fault_is_told_in_the_order_of_the_reading(faults, edited) -> None:
    text = edited(
        ('name = "wall clock"', 'name = ""'),
        ("thickness = 42", "thickness = -42"),
        ("feed_max = 3000", "feed_max = 1000"),
        ("clearance = 1.0", "clearance = true"),
        ("rpm = 1500", "rpm = 150"),
        ('{ kind = "sphere", diameter = 16 }', '{ kind = "ball", diameter = 16 }'),
        ("height = 18", ""),
        ("depth = 20", ""),
        ("at = [[100, 75]]", "at = [[300, 75]]"),
        ("depth = 1.5", "dept = 1.5"),
    )
    assert faults(text) == [
        "job.toml: name: is empty: write something between the quotes",
        "job.toml: blank: thickness: -42 mm must be more than 0 mm",
        'job.toml: check: clearance: true is not a number: give a length such as 6, "6 mm" or '
        '"1/4 in"',
        'job.toml: cutter[1] "flat 6": feed: 1200 mm/min is more than the machine\'s feed_max '
        "(1000 mm/min)",
        'job.toml: cutter[2] "drill 5": rpm: 150 rev/min is outside the spindle\'s 800 to '
        "24000 rev/min",
        'job.toml: piece[2] "pebble": solid: kind: "ball" is not understood: known are box, '
        "cylinder, sphere, mesh, prism, heights",
        'job.toml: clamp[1]: height: missing: give a length such as 6, "6 mm" or "1/4 in"',
        'job.toml: cut[1] "works": depth: missing: give the depth below the face, or '
        "through = true",
        'job.toml: cut[2] "spindle hole": at[1]: x = 300 mm, y = 75 mm lies 100 mm outside the '
        "blank: move it",
        'job.toml: cut[3] "minute ring": dept: unknown key: did you mean "depth"?',
        'job.toml: cut[3] "minute ring": depth: missing: give the depth below the face, or '
        "through = true",
    ]


def test_the_fault_of_the_contract(faults, edited) -> None:
    text = edited(('name = "works"', 'name = "hand cavity"'), ("depth = 20", "depth = 52"))
    (line,) = faults(text)
    assert line.startswith(
        'job.toml: cut[1] "hand cavity": depth: 52 mm is deeper than the blank (42 mm)'
    )


def test_values_are_shown_in_the_unit_of_the_job(faults, clock) -> None:
    assert faults(inches(clock).replace("depth = 0.7874015748031497", "depth = 2"))[0] == (
        'job.toml: cut[1] "works": depth: 2 in = 50.8 mm is deeper than the blank '
        "(1.6535 in = 42 mm): for a cut right through give through = true instead"
    )


LENGTHS = (
    *("outline", "thickness", "travel", "feed_max", "safe_height", "clearance", "diameter"),
    *("flute_length", "reach", "feed", "plunge", "stepdown", "tip_diameter", "height", "at"),
    *("from_front", "from_back", "depth"),
)


def inches(text: str) -> str:
    """The same job with every bare length in inches (1 in = 25.4 mm exactly)."""
    lines = []
    for line in text.replace('units = "mm"', 'units = "in"').splitlines():
        key, _, value = line.partition(" = ")
        lines.append(f"{key} = {_scaled(value)}" if key in LENGTHS or key == "solid" else line)
    return "\n".join(lines)


def _scaled(value: str) -> str:
    out = tomllib.loads(f"v = {value}")["v"]
    return _toml(out)


def _toml(value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(v)}" for key, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return f'"{value}"' if isinstance(value, str) else repr(value / 25.4)


def test_an_inch_job_is_the_same_job(read, clock) -> None:
    metric, imperial = read(clock), read(inches(clock))
    assert imperial.unit is Unit.INCH and imperial.machine.decimals == 5
    first, second = numbers(metric), numbers(imperial)
    assert len(first) > 100
    assert second == pytest.approx(first, rel=1e-12, abs=1e-12)


def numbers(job: Job) -> list[float]:
    """Every number of a job but the decimals of its programs, in order."""
    found: list[float] = []

    def visit(value: object) -> None:
        if isinstance(value, np.ndarray):
            found.extend(value.ravel().tolist())
        elif isinstance(value, int | float) and not isinstance(value, bool):
            found.append(float(value))
        elif isinstance(value, dict):
            visit(list(value.values()))
        elif isinstance(value, list | tuple):
            for entry in value:
                visit(entry)
        elif hasattr(value, "__dataclass_fields__"):
            for name in value.__dataclass_fields__:
                if name not in ("decimals", "warnings"):
                    visit(getattr(value, name))

    visit(job)
    return found


def paths(value: object, path: tuple = ()) -> list[tuple]:
    """The paths of every value of a parsed job, containers too."""
    entries = value.items() if isinstance(value, dict) else enumerate(value)
    found = []
    for key, entry in entries:
        found.append((*path, key))
        if isinstance(entry, dict | list):
            found.extend(paths(entry, (*path, key)))
    return found


KEYS = st.sampled_from(
    [
        *("name", "units", "at", "depth", "outline", "rect", "circle", "polygon", "slot", "dxf"),
        *("islands", "cutter", "file", "unit", "kind", "size", "shape", "do", "side", "face"),
        *("wait", "drift", "turn", "tilt", "cell", "nut", "finish", "through", "if_blocked", "x"),
        *("ledge", "tabs", "below", "plate", "pins", "measured", "dial", "screws", "skin", "for"),
        *("from", "step", "count", "centre", "radius", "first", "width", "layer", "diameter"),
    ]
)
SCALARS = st.one_of(
    st.booleans(),
    st.integers(min_value=-(2**70), max_value=2**70),
    st.floats(),
    st.text(max_size=8),
    st.sampled_from(["mm", "in", "1/4 in", "6 mm", "drill", "mesh", "box", "pocket", "vee", ".."]),
    st.dates(),
)
GARBAGE = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=8,
)


@settings(
    max_examples=120,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_garbage_ends_in_faults_or_a_job(clock, monkeypatch, tmp_path, data) -> None:
    job = tomllib.loads(clock)
    for _ in range(data.draw(st.integers(1, 4))):
        *way, last = data.draw(st.sampled_from(paths(job)))
        place = job
        for key in way:
            place = place[key]
        if isinstance(place, dict) and data.draw(st.booleans()):
            last = data.draw(KEYS)
        place[last] = data.draw(GARBAGE)
    monkeypatch.setattr("toolpath.job.read._parse", lambda *_: job)
    path = tmp_path / "job.toml"
    path.write_text("")
    try:
        assert all(map(math.isfinite, numbers(read_job(path))))
    except FaultsError as error:
        assert error.faults
        for fault in error.faults:
            assert str(fault).isprintable()
            assert str(fault).startswith(f"{path}: ") and fault.message

"""Exit codes, one line for every kind of trouble, and no traceback."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from toolpath import __version__
from toolpath.cli import plan as plan_command
from toolpath.cli.main import main
from toolpath.errors import (
    DrawingError,
    EntryError,
    Fault,
    FaultsError,
    InternalError,
    ProgramError,
)

ROOT = Path(__file__).parents[2]
FAULT = Fault(file="job.toml", where="blank", message="too thin")


@pytest.fixture
def failing(monkeypatch):
    """Makes `keepclear plan` end in an error, or in a code."""

    def make(outcome):
        def run(options, console):
            if isinstance(outcome, BaseException):
                raise outcome
            return outcome

        monkeypatch.setattr(plan_command, "run", run)
        return ["plan", "job.toml"]

    return make


@pytest.mark.parametrize("code", [0, 3])
def test_a_command_s_own_code_is_given_on(failing, code) -> None:
    assert main(failing(code)) == code


@pytest.mark.parametrize(
    ("error", "code", "line"),
    [
        (FaultsError([FAULT]), 2, "job.toml: blank: too thin"),
        (ProgramError("not understood", line=3), 2, "program: line 3: not understood"),
        (InternalError("odd"), 1, "keepclear: internal error, please report it: odd"),
        (DrawingError("torn"), 1, "keepclear: torn"),
        (EntryError("no way"), 1, "keepclear: no way"),
        (MemoryError(), 1, "keepclear: out of memory: use a larger [check] cell"),
        (OSError(28, "No space left on device", "out"), 1, "keepclear: out: No space left on dev"),
        (KeyboardInterrupt(), 1, "keepclear: stopped"),
        (KeyError("x"), 1, "keepclear: internal error, please report it: KeyError: 'x'"),
        (RecursionError("deep"), 1, "keepclear: internal error, please report it: RecursionErro"),
        (AssertionError(), 1, "keepclear: internal error, please report it: AssertionError"),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, BaseException) else None,
)
def test_every_error_is_one_line_and_a_code(failing, capsys, error, code, line) -> None:
    assert main(failing(error)) == code
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(line)
    assert err.count("\n") == 1
    assert "Traceback" not in err


def test_a_reader_that_has_gone_is_no_trouble_of_ours(failing, capsys) -> None:
    with pytest.raises(BrokenPipeError):
        main(failing(BrokenPipeError()))
    assert capsys.readouterr() == ("", "")


def test_what_libraries_log_stays_off_the_screen(tmp_path) -> None:
    lines = ["solid a", "facet normal x 0 1", "outer loop", "vertex 0 0 0", "vertex 1 0 0"]
    lines += ["vertex 0 1 0", "endloop", "endfacet", "endsolid a", ""]
    (tmp_path / "pebble.stl").write_text("\n".join(lines))
    (tmp_path / "program.nc").write_text("G21\n")
    job = (ROOT / "samples/first-pocket/first-pocket.toml").read_text()
    sphere, mesh = (
        'kind = "sphere", diameter = 14',
        'kind = "mesh", file = "pebble.stl", unit = "mm"',
    )
    assert sphere in job
    (tmp_path / "job.toml").write_text(job.replace(sphere, mesh))
    command = [sys.executable, "-m", "toolpath", "check", tmp_path / "job.toml"]
    command += [tmp_path / "program.nc", "--face", "front", "--cutter", "flat 6"]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1 and "no end (M2 or M30)" in done.stderr


def test_a_file_steers_no_terminal(failing, capsys) -> None:
    fault = Fault(file="job.toml", where="cut[1]", message='layer "\x1b[2J\n\u202eb"')
    assert main(failing(FaultsError([fault]))) == 2
    assert capsys.readouterr().err == 'job.toml: cut[1]: layer "\\x1b[2J\\n\\u202eb"\n'


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "COMMAND"),
        (["carve"], "carve"),
        (["plan"], "JOB"),
        (["plan", "a.toml", "--fast"], "--fast"),
        (["plan", "a.toml", "--no-pic"], "--no-pic"),  # no short forms: a typo is a typo
        (["check", "a.toml", "p.nc", "--face", "side", "--cutter", "flat 6"], "side"),
        (["check", "a.toml", "p.nc", "--face", "front"], "--cutter"),
        (["check", "a.toml", "p.nc", "--face", "front", "--cutter", "a", "--after", "b"], "after"),
    ],
)
def test_a_wrong_command_line_is_a_fault(capsys, words, said) -> None:
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("command line: ")
    assert said in err
    assert "--help" in err
    assert main([*words, "--json"]) == 2
    faults = json.loads(capsys.readouterr().out)["faults"]
    assert said in faults[0]["message"]


@pytest.mark.parametrize("words", [["--help"], ["plan", "--help"], ["--version"]])
def test_help_and_version_end_well(capsys, words) -> None:
    with pytest.raises(SystemExit) as caught:
        main(words)
    assert caught.value.code == 0
    out = capsys.readouterr().out
    assert out == f"keepclear {__version__}\n" or out.startswith("usage: keepclear")


def test_help_names_the_exit_codes(capsys) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    out = capsys.readouterr().out
    for words in ("0 all clear", "2 the command line", "3 refused", "1 anything else"):
        assert words in " ".join(out.split())


def test_a_missing_job_is_a_fault(tmp_path, capsys) -> None:
    for words in (["plan"], ["preview"]):
        assert main([*words, str(tmp_path / "none.toml")]) == 2
        assert "none.toml" in capsys.readouterr().err

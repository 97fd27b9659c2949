"""What is said where."""

import io
import json
import sys

import pytest

from toolpath.cli.console import Console
from toolpath.errors import Fault

FAULTS = [
    Fault(file="job.toml", where="blank: thickness", message="0 mm is too little"),
    Fault(file="job.toml", where="", message="no cuts"),
]


def speak(console: Console) -> None:
    console.say("a result")
    console.notice("a notice")
    console.json({"verdict": "clear"})
    console.trouble("a trouble")


def test_a_person_reads_results_on_stdout_and_all_else_on_stderr(capsys) -> None:
    speak(Console(as_json=False))
    assert capsys.readouterr() == ("a result\n", "a notice\nkeepclear: a trouble\n")


def test_json_stands_alone_on_stdout(capsys) -> None:
    speak(Console(as_json=True))
    out, err = capsys.readouterr()
    assert json.loads(out) == {"verdict": "clear"}
    assert out.endswith("}\n")
    assert err == "a notice\nkeepclear: a trouble\n"


@pytest.mark.parametrize("as_json", [False, True])
def test_faults_are_one_a_line_and_json_where_asked(capsys, as_json) -> None:
    Console(as_json=as_json).faults(FAULTS)
    out, err = capsys.readouterr()
    assert err.splitlines() == [
        "job.toml: blank: thickness: 0 mm is too little",
        "job.toml: no cuts",
    ]
    if as_json:
        payload = json.loads(out)
        assert payload["verdict"] == "wrong"
        assert [f["where"] for f in payload["faults"]] == ["blank: thickness", ""]
    else:
        assert out == ""


@pytest.mark.parametrize("as_json", [False, True])
def test_no_progress_when_piped(capsys, as_json) -> None:
    with Console(as_json=as_json).progress() as progress:
        progress("planning the dial")
    assert capsys.readouterr() == ("", "")


def test_progress_on_a_terminal_goes_to_stderr(monkeypatch, capsys) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with Console(as_json=True).progress() as progress:
        progress("planning the dial")
    assert "planning the dial" in terminal.getvalue()
    assert capsys.readouterr().out == ""

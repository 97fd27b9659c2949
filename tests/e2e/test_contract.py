"""The contract's words about commands, outputs and exit codes, from outside the process."""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FIRST = ROOT / "samples/first-pocket/first-pocket.toml"
REFUSED = ROOT / "samples/clock/too-deep.toml"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "a b" / "jöb.toml"  # a blank and a letter of another alphabet
    path.parent.mkdir()
    shutil.copy(FIRST, path)
    return path


def edited(job: Path, old: str, new: str) -> Path:
    text = job.read_text()
    assert old in text
    job.write_text(text.replace(old, new))
    return job


def test_plan_leaves_just_what_the_contract_names(keepclear, job, tmp_path) -> None:
    out = tmp_path / "out"
    ran = keepclear("plan", job, "-o", out)
    assert ran.code == 0, ran.err
    assert sorted(p.name for p in out.iterdir()) == [
        "pictures",
        "plan.json",
        "programs",
        "rehearsal",
        "sheet.html",
    ]
    assert [p.name for p in (out / "programs").iterdir()] == ["01-front-flat-6.nc"]
    assert all(p.suffix == ".png" for p in (out / "pictures").iterdir())
    data = json.loads((out / "plan.json").read_text())
    assert data["verdict"] == "clear"
    (cut,) = data["cuts"]
    assert cut["floor"] == 6 and cut["face"] == "front" and cut["seconds"] > 0
    assert set(cut["closest"]) >= {"piece", "gap", "at"}
    (program,) = data["programs"]
    text = (out / "programs/01-front-flat-6.nc").read_text()
    assert text.startswith(f"(Code {program['code']})\n")
    assert program["code"] in (out / "sheet.html").read_text()
    assert program["lines"] == len(text.splitlines())
    assert program["bounds"][0][2] == -6


def test_the_same_job_gives_the_same_bytes(keepclear, job, tmp_path) -> None:
    for name in ("one", "two"):
        assert keepclear("plan", job, "-o", tmp_path / name, "--no-pictures").code == 0
    for path in sorted((tmp_path / "one").rglob("*")):
        if path.is_file():
            twin = tmp_path / "two" / path.relative_to(tmp_path / "one")
            assert path.read_bytes() == twin.read_bytes(), path


def test_the_folder_beside_the_job_is_the_default(keepclear, job) -> None:
    assert keepclear("plan", job, "--no-pictures").code == 0
    assert (job.parent / "jöb-plan" / "programs").is_dir()


def test_a_refused_job_leaves_pictures_and_no_programs(keepclear, tmp_path) -> None:
    out = tmp_path / "out"
    (out / "programs").mkdir(parents=True)
    (out / "programs" / "01-front-old.nc").write_text("stale")
    ran = keepclear("plan", REFUSED, "-o", out)
    assert ran.code == 3
    assert "brown pebble" in ran.out
    assert sorted(p.name for p in out.iterdir()) == ["pictures", "plan.json", "sheet.html"]
    data = json.loads((out / "plan.json").read_text())
    assert data["verdict"] == "refused" and data["programs"] == []
    finding = data["cuts"][0]["findings"][0]
    assert finding["piece"] == "brown pebble" and finding["gap"] < finding["needed"]
    # The pebble ends 11.3 below the front with its rise, the blank may be 0.3 thinner, 1.02 needed:
    # 42 - 0.3 - 11.3 - 1.02 = 29.38.
    assert finding["clear_depth"] == pytest.approx(29.38, abs=0.01)


@pytest.mark.parametrize(
    ("old", "new"),
    [("depth = 6", "depth = 60"), ("units", "unitz"), ("[blank]", "[blank"), ("depth = 6", "")],
)
def test_a_wrong_job_takes_the_older_set_away(keepclear, job, tmp_path, old, new) -> None:
    out = tmp_path / "out"
    assert keepclear("plan", job, "-o", out, "--no-pictures").code == 0
    ran = keepclear("plan", edited(job, old, new), "-o", out, "--json")
    assert ran.code == 2
    assert ran.json["verdict"] == "wrong"
    assert ran.json["faults"] and set(ran.json["faults"][0]) >= {"where", "message"}
    assert list(out.iterdir()) == []


def test_a_missing_job_too(keepclear, tmp_path) -> None:
    out = tmp_path / "out"
    (out / "programs").mkdir(parents=True)
    ran = keepclear("plan", tmp_path / "none.toml", "-o", out)
    assert ran.code == 2 and "none.toml" in ran.err
    assert not (out / "programs").exists()


def test_travel_that_does_not_fit_is_a_fault(keepclear, job, tmp_path) -> None:
    edited(job, "travel = [300, 200, 60]", "travel = [60, 200, 60]")
    ran = keepclear("plan", job, "-o", tmp_path / "out", "--json")
    assert ran.code == 2
    assert "travel" in ran.json["faults"][0]["where"]
    assert list((tmp_path / "out").iterdir()) == []


def test_a_plan_without_cuts_is_a_fault_and_check_is_not(keepclear, job, tmp_path) -> None:
    assert keepclear("plan", job, "-o", tmp_path / "out", "--no-pictures").code == 0
    program = tmp_path / "out/programs/01-front-flat-6.nc"
    kept = tmp_path / "kept.nc"
    shutil.copy(program, kept)
    job.write_text(job.read_text().split("[[cut]]")[0])
    assert keepclear("plan", job, "-o", tmp_path / "out").code == 2
    ran = keepclear("check", job, kept, "--face", "front", "--cutter", "flat 6", "--json")
    assert ran.code == 0 and ran.json["verdict"] == "clear"


def test_json_stands_alone_on_stdout(keepclear, job, tmp_path) -> None:
    ran = keepclear("plan", job, "-o", tmp_path / "out", "--json", "--no-pictures")
    assert ran.json == json.loads((tmp_path / "out/plan.json").read_text())
    refused = keepclear("plan", REFUSED, "-o", tmp_path / "out", "--json", "--no-pictures")
    assert refused.code == 3 and refused.json["verdict"] == "refused"
    wrong = keepclear("plan", "--json", "--bad-option")
    assert wrong.code == 2 and wrong.json["verdict"] == "wrong"


def test_preview_leaves_pictures_only(keepclear, job, tmp_path) -> None:
    ran = keepclear("preview", job, "-o", tmp_path / "out")
    assert ran.code == 0
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["pictures"]


def test_new_plans_as_it_stands_and_overwrites_nothing(keepclear, tmp_path) -> None:
    folder = tmp_path / "clock"
    assert keepclear("new", folder).code == 0
    ran = keepclear("plan", folder / "job.toml", "--no-pictures")
    assert ran.code == 0, ran.err
    text = (folder / "job.toml").read_bytes()
    assert keepclear("new", folder).code == 2
    assert (folder / "job.toml").read_bytes() == text


def planned(keepclear, job: Path, folder: Path) -> Path:
    assert keepclear("plan", job, "-o", folder, "--no-pictures").code == 0
    (program,) = (folder / "programs").iterdir()
    return program


def test_check_reads_back_what_plan_wrote(keepclear, job, tmp_path) -> None:
    program = planned(keepclear, job, tmp_path / "out")
    words = ("check", job, program, "--face", "front", "--cutter", "flat 6", "--json")
    ran = keepclear(*words)
    assert ran.code == 0, ran.out
    plan = json.loads((tmp_path / "out/plan.json").read_text())
    assert ran.json["closest"]["gap"] == pytest.approx(plan["cuts"][0]["closest"]["gap"], abs=1e-3)
    assert ran.json["bounds"] == plan["programs"][0]["bounds"]
    for key in ("feed_length", "rapid_length", "arcs", "moves", "seconds"):
        assert ran.json[key] > 0


def test_check_refuses_a_deeper_program(keepclear, job, tmp_path) -> None:
    program = planned(keepclear, job, tmp_path / "out")
    # The pebble is 8 to 22 below the front, 0.3 and 0.5 of drift: 7.7 - 1.02 = 6.68 is clear.
    spoiled = tmp_path / "spoiled.nc"
    for z, code in (("-6.6", 0), ("-6.8", 3)):
        spoiled.write_text(program.read_text().replace("Z-6.0000", f"Z{z}000"))
        ran = keepclear("check", job, spoiled, "--face", "front", "--cutter", "flat 6", "--json")
        assert ran.code == code, (z, ran.out)
        if code:
            finding = ran.json["findings"][0]
            assert finding["piece"] == "pebble" and finding["line"] > 0
            assert finding["gap"] == pytest.approx(0.9, abs=0.01)


def test_check_on_a_known_stock(keepclear, job, tmp_path) -> None:
    program = planned(keepclear, job, tmp_path / "out")
    inside = tmp_path / "rapid.nc"
    inside.write_text("G21 G90 G17 G94\nG0 Z5\nG0 X60 Y45\nG0 Z-3\nG1 Z-5 F100\nG0 Z5\nM2\n")
    words = ("check", job, inside, "--face", "front", "--cutter", "flat 6", "--json")
    unknown = keepclear(*words)
    assert unknown.code == 0
    known = keepclear(*words, "--after", "front", "flat 6", program)
    assert known.code == 0, known.out
    elsewhere = tmp_path / "other.nc"
    elsewhere.write_text(inside.read_text().replace("X60 Y45", "X12 Y12"))
    words = ("check", job, elsewhere, "--face", "front", "--cutter", "flat 6", "--json")
    ran = keepclear(*words, "--after", "front", "flat 6", program)
    assert ran.code == 3
    assert ran.json["findings"][0]["code"] == "rapid-in-stock"


def test_check_on_an_uncut_blank(keepclear, job, tmp_path) -> None:
    program = planned(keepclear, job, tmp_path / "out")
    words = ("check", job, program, "--face", "front", "--cutter", "flat 6", "--json", "--uncut")
    assert keepclear(*words).code == 0
    program.write_text(program.read_text().replace("G0 Z1.0000", "G0 Z-1.0000", 1))
    ran = keepclear(*words)
    assert ran.code == 3 and ran.json["findings"][0]["code"] == "rapid-in-stock"


@pytest.mark.parametrize(
    ("line", "word"),
    [
        ("G41 D1", "G41"),
        ("G84 X1 Y1 Z-1 R1", "G84"),
        ("#1=3", "#"),
        ("T2 M6", "cutter"),
        ("G2 X1 Y1", "centre"),
        ("G1 X[1+2]", "["),
        ("O1000", "O"),
        ("G92 X0", "G92"),
        ("G43 H1", "G43"),
        ("G93 G1 X1 F2", "G93"),
        ("G28 Z0", "G28"),
        ("G53 G0 Z0", "G53"),
        ("G55 X1", "G55"),
        ("/G0 X1", "switch"),
        ("G1 X1 A5", "A"),
        ("G1 X1e5", "e"),
    ],
)
def test_what_is_not_understood_is_said_with_its_line(keepclear, job, tmp_path, line, word) -> None:
    program = tmp_path / "odd.nc"
    program.write_text(f"G21 G90 G17 G94\nT1 M6\nG0 Z5\nG0 X20 Y20\nG1 Z4 F100\n{line}\nM2\n")
    ran = keepclear("check", job, program, "--face", "front", "--cutter", "flat 6", "--json")
    assert ran.code == 2, ran.out
    message = ran.json["faults"][0]["message"]
    assert "line 6" in message
    assert word.lower() in message.lower()


def test_wrong_names_are_faults(keepclear, job, tmp_path) -> None:
    program = tmp_path / "p.nc"
    program.write_text("M2\n")
    for words in (
        ("check", job, program, "--face", "side", "--cutter", "flat 6"),
        ("check", job, program, "--face", "front", "--cutter", "flat 7"),
        ("check", job, tmp_path / "none.nc", "--face", "front", "--cutter", "flat 6"),
    ):
        ran = keepclear(*words, "--json")
        assert ran.code == 2 and ran.json["faults"], words


@pytest.mark.parametrize("command", ["", "plan", "check", "preview", "new"])
def test_every_command_has_help(keepclear, command) -> None:
    ran = keepclear(*[w for w in (command, "--help") if w])
    assert ran.code == 0 and "usage: keepclear" in ran.out


def test_killed_in_mid_run_there_is_a_whole_set_or_none(keepclear, job, tmp_path) -> None:
    """Killed for real, as soon as the scratch folder shows that the run is under way."""
    out = tmp_path / "out"
    expected = planned(keepclear, job, out).read_bytes()
    command = [sys.executable, "-m", "toolpath", "plan", str(job), "-o", str(out), "--no-pictures"]
    run = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL)
    while not list(out.glob(".keepclear-*/programs")) and run.poll() is None:
        time.sleep(0.001)
    os.kill(run.pid, signal.SIGKILL)
    assert run.wait() == -signal.SIGKILL
    assert not (out / "programs").exists()  # the older set was gone before
    assert planned(keepclear, job, out).read_bytes() == expected
    assert not list(out.glob(".keepclear*"))


def test_names_that_the_terminal_cannot_show(keepclear, job, tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("PYTHONIOENCODING", "ascii")
    edited(job, 'name = "pebble"', 'name = "\u7530"')
    for more in ((), ("--json",)):
        ran = keepclear("plan", job, "-o", tmp_path / "out", "--no-pictures", *more)
        assert ran.code == 0, ran.err


def test_the_first_job_of_the_readme(keepclear, tmp_path) -> None:
    """README, "Your first job in five minutes": the tray made too deep."""
    assert keepclear("new", tmp_path).code == 0
    job = edited(tmp_path / "job.toml", "depth = 8\n", "depth = 23\n")
    ran = keepclear("plan", job, "--no-pictures")
    assert ran.code == 3, ran.err
    assert "brass cog" in ran.out and "mend: raise the floor" in ran.out


def test_emitted_lines_keep_the_rules(keepclear, job, tmp_path) -> None:
    """Lines and words: NISTIR 6556 3.3 and 3.5; lengths and comments: common practice."""
    text = planned(keepclear, job, tmp_path / "out").read_text()
    lines = text.splitlines()
    assert lines[-1] == "M30"
    for line in lines:
        assert len(line) <= 70
        assert "-0.0000" not in line.split() and not re.search(r"[XYZIJ]-0\.0000\b", line)
        if line.startswith("("):
            assert re.fullmatch(r"\([A-Za-z0-9 .,\-+/=]*\)", line)
        else:
            assert re.fullmatch(r"([GMXYZIJFSP]-?\d+(\.\d+)?)( [GMXYZIJFSP]-?\d+(\.\d+)?)*", line)
    first_move = next(line for line in lines if re.search(r"[XYZ]", line) and line[0] == "G")
    assert first_move.startswith("G0 Z") and "X" not in first_move

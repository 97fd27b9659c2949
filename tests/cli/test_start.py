"""The process of the command: streams that are closed, full or gone, and the key that stops it."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SAMPLE = "samples/first-pocket/first-pocket.toml"


def test_the_script_is_quiet_when_the_reader_has_gone(tmp_path) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    command = [sys.executable, "-m", "toolpath", "new", str(tmp_path / "clock")]
    done = subprocess.run(command, stdout=writer, stderr=subprocess.PIPE, text=True, cwd=ROOT)
    os.close(writer)
    assert (done.returncode, done.stderr) == (1, "")


@pytest.mark.parametrize("code", [0, 3])
def test_the_script_ends_with_the_code(code) -> None:
    assert as_script(f"    return {code}") == (code, "")


FULL = "/dev/full"
needs_full = pytest.mark.skipif(not os.path.exists(FULL), reason="needs /dev/full")


def ended(words: str) -> tuple[int, str]:
    """The command in a shell: its code, and what it says on stderr."""
    line = f"{sys.executable} -m toolpath {words}"
    done = subprocess.run(["sh", "-c", line], cwd=ROOT, stderr=subprocess.PIPE, text=True)
    return done.returncode, done.stderr


@needs_full
def test_a_result_that_cannot_be_printed_is_said(tmp_path) -> None:
    code, said = ended(f"new {tmp_path}/clock > {FULL}")
    assert (code, said.count("\n")) == (1, 1)
    assert said == "keepclear: standard output: No space left on device\n"


@needs_full
@pytest.mark.parametrize(
    "words", ["2> /dev/full", "2>&-", "--json > /dev/full 2>&-", "> /dev/full"]
)
def test_a_fault_that_cannot_be_printed_keeps_its_code(words) -> None:
    code, said = ended(f"check none.toml none.nc --face front --cutter x {words}")
    assert code == 2 and "Traceback" not in said


def test_closed_streams_are_no_trouble(tmp_path) -> None:
    assert ended(f"new {tmp_path}/a >&-") == (0, "")
    assert ended(f"new {tmp_path}/b --json >&- 2>&-") == (0, "")


@needs_full
@pytest.mark.parametrize("words", ["--help", "--version", "plan --help"])
def test_help_that_cannot_be_printed_is_said(words) -> None:
    said = "keepclear: standard output: No space left on device\n"
    assert ended(f"{words} > {FULL}") == (1, said)


def test_help_into_a_pipe_that_nobody_reads() -> None:
    reader, writer = os.pipe()
    os.close(reader)
    command = [sys.executable, "-m", "toolpath", "--help"]
    done = subprocess.run(command, stdout=writer, stderr=subprocess.PIPE, text=True, cwd=ROOT)
    os.close(writer)
    assert (done.returncode, done.stderr) == (1, "")


def test_a_reader_that_leaves_after_the_first_letter(tmp_path) -> None:
    """More is printed than a pipe holds (64 KiB, pipe(7)), so that the end meets no reader."""
    clamp = "[[clamp]]\n" + "".join(f"odd{number} = 1\n" for number in range(90))
    (tmp_path / "job.toml").write_text((ROOT / SAMPLE).read_text() + 20 * clamp)
    command = [sys.executable, "-m", "toolpath", "plan", str(tmp_path / "job.toml"), "--json"]
    with (
        (tmp_path / "said").open("w") as said,
        subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=said) as run,
    ):
        assert run.stdout.read(1) == b"{"
        run.stdout.close()
    assert run.returncode == 2
    text = (tmp_path / "said").read_text()
    assert text.count(": clamp[") >= 1000 and "Traceback" not in text


# ---- the key that stops it -------------------------------------------------------------------

STOPPED = (1, "keepclear: stopped\n")


def as_script(code: str) -> tuple[int, str]:
    """The script in a process of its own, with other work than that of its commands."""
    script = f"""
import os, signal, sys, time
signal.signal(signal.SIGINT, signal.default_int_handler)  # in the background too
from toolpath.cli import main, start
def press(): os.kill(os.getpid(), signal.SIGINT); time.sleep(1)
def run():
{code}
main.main = run
start.entry()
"""
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stderr=subprocess.PIPE,
        text=True,
    )
    return done.returncode, done.stderr


@pytest.mark.parametrize(
    "code",
    [
        "    press()",
        "    exec('press()', globals())",  # Python itself would then end by the signal
        "    try: press()\n    finally: press()",  # who presses again waits for nothing
    ],
    ids=["once", "within exec", "twice"],
)
def test_the_key_that_stops_it(code) -> None:
    assert as_script(code) == STOPPED


def test_a_key_pressed_in_a_callback_of_a_library_is_not_lost() -> None:
    """ctypes cannot hand on what a callback raises (Python library reference, ctypes)."""
    code = """
    import ctypes
    ctypes.CFUNCTYPE(None)(press)()
    return 0"""
    assert as_script(code) == STOPPED


def test_what_else_is_lost_in_a_callback_is_shown_as_ever() -> None:
    code, said = as_script("""
    import ctypes
    ctypes.CFUNCTYPE(None)(lambda: 1 / 0)()
    return 0""")
    assert code == 0 and "ZeroDivisionError" in said


def test_a_key_that_is_ignored_stays_ignored() -> None:
    """As `nohup` and a shell's `&` have it (POSIX sh, 2.11 Signals and error handling)."""
    code = "signal.signal(signal.SIGINT, signal.SIG_IGN)"
    done = subprocess.run(
        [sys.executable, "-c", f"import signal; {code}\nfrom toolpath.cli import main, start\n"
         "main.main = lambda: int(signal.getsignal(signal.SIGINT) is not signal.SIG_IGN)\n"
         "start.entry()"],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 0


def heard() -> None:
    """A process that is begun in the background hears no key."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
def test_stopped_in_mid_run_nothing_half_written_stays(tmp_path) -> None:
    """Stopped for real, as soon as the scratch folder shows that the run is under way."""
    out = tmp_path / "out"
    command = [sys.executable, "-m", "toolpath", "plan", SAMPLE, "-o", str(out), "--no-pictures"]
    run = subprocess.Popen(
        command,
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        preexec_fn=heard,
    )
    while not list(out.glob(".keepclear-*")) and run.poll() is None:
        time.sleep(0.001)
    os.kill(run.pid, signal.SIGINT)
    said = run.communicate(timeout=60)[1].decode()
    assert (run.returncode, said) == STOPPED
    assert not (out / "programs").exists() and not (out / "sheet.html").exists()

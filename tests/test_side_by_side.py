import gc
import os
import signal
import subprocess
import sys
import threading
import time
from functools import partial
from pathlib import Path

import pytest

from toolpath import side_by_side as module
from toolpath.side_by_side import beside, shared, side_by_side


def write(path):
    path.write_text(str(os.getpid()))


def test_all_is_done_and_half_of_it_elsewhere(tmp_path):
    names = [tmp_path / name for name in "abcd"]
    tasks = [partial(write, path) for path in names]
    side_by_side(tasks[:2], tasks[2:])
    here = str(os.getpid())
    assert [path.read_text() == here for path in names[:2]] == [True, True]
    assert all(path.exists() for path in names)


def test_with_threads_about_nothing_is_copied(tmp_path):
    done = threading.Event()
    other = threading.Thread(target=done.wait)
    other.start()
    try:
        side_by_side([], [partial(write, tmp_path / "a")])
    finally:
        done.set()
        other.join()
    assert (tmp_path / "a").read_text() == str(os.getpid())


def test_what_fails_elsewhere_is_said_here(tmp_path, capfd):
    def fail():
        raise ValueError("no pencil")

    with pytest.raises(ValueError, match="no pencil"):
        side_by_side([], [fail])


def test_without_a_way_to_copy_all_is_done_here(tmp_path, monkeypatch):
    monkeypatch.setattr(module.os, "cpu_count", lambda: 1)
    side_by_side([], [partial(write, tmp_path / "a")])
    assert (tmp_path / "a").read_text() == str(os.getpid())


def test_answers_come_back_in_order():
    tasks = [partial(pow, 2, number) for number in range(6)]
    assert side_by_side(tasks[:2], tasks[2:]) == [2**number for number in range(6)]


def test_what_cannot_come_back_is_done_here():
    # A function without a name cannot be pickled.
    (answer,) = side_by_side([], [lambda: lambda: 7])
    assert answer() == 7


def test_what_fails_elsewhere_prints_nothing(capfd):
    def fail():
        raise ValueError("no pencil")

    with pytest.raises(ValueError, match="no pencil"):
        side_by_side([], [fail])
    assert capfd.readouterr() == ("", "")


def test_what_is_written_out_late_is_written_once(tmp_path):
    """Text still held back when the process is copied must not come out of both."""
    text = (
        "from toolpath.side_by_side import shared, side_by_side\n"
        "print('once')\n"
        "side_by_side([int], [int])\n"
    )
    with (tmp_path / "out").open("w") as out:
        subprocess.run([sys.executable, "-c", text], stdout=out, check=True)
    assert (tmp_path / "out").read_text() == "once\n"


def slow(path):
    """Writes for a minute; who reads never meets half of it."""
    made = path.with_suffix(".new")
    for number in range(3000):
        made.write_text(str(number))
        made.replace(path)
        time.sleep(0.02)


def stopped(path):
    """Whether a file that was written is written no more; a busy machine may take its time."""
    until = time.monotonic() + 20
    while time.monotonic() < until:
        before = path.read_text()
        time.sleep(0.5)
        if path.read_text() == before != "":
            return True
    return False


def when_there(path):
    while not (path.exists() and path.read_text()):
        time.sleep(0.01)


def interrupt(path):
    when_there(path)
    raise KeyboardInterrupt


def kill(path):
    when_there(path)
    os.kill(os.getpid(), signal.SIGKILL)


def press_a_key(path):
    os.kill(os.getpid(), signal.SIGINT)
    write(path)


def fresh(here, there, path):
    """Exit code of an interpreter of its own that does two tasks of this file side by side: one
    that ran other tests may have threads, and is then not copied."""
    text = (
        f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r})\n"
        "from functools import partial\nfrom pathlib import Path\n"
        "from toolpath.side_by_side import side_by_side\nimport test_side_by_side as tests\n"
        f"path = Path({str(path)!r})\n"
        f"side_by_side([partial(tests.{here}, path)], [partial(tests.{there}, path)])\n"
    )
    run = [sys.executable, "-c", text]
    return subprocess.run(run, stderr=subprocess.DEVNULL, check=False, timeout=120).returncode


def test_the_copy_ends_where_the_work_here_is_interrupted(tmp_path):
    assert fresh("interrupt", "slow", tmp_path / "a") == -signal.SIGINT
    assert stopped(tmp_path / "a")


def test_the_copy_ends_where_this_process_is_killed(tmp_path):
    assert fresh("kill", "slow", tmp_path / "a") == -signal.SIGKILL
    assert stopped(tmp_path / "a")


def test_a_key_pressed_is_for_this_process_alone(tmp_path):
    assert fresh("when_there", "press_a_key", tmp_path / "a") == 0


def test_shared_tasks_are_each_done_once_and_answered_in_order(tmp_path):
    def work(number):
        with (tmp_path / f"{number}-{os.getpid()}").open("x") as file:
            file.write("done")
        return number * number

    told = []
    answers = shared([partial(work, number) for number in range(40)], told.append)
    assert answers == [number * number for number in range(40)]
    done = sorted(int(path.name.split("-")[0]) for path in tmp_path.iterdir())
    assert done == list(range(40))
    here = [path for path in tmp_path.iterdir() if path.name.endswith(f"-{os.getpid()}")]
    assert sorted(told) == sorted(int(path.name.split("-")[0]) for path in here)


def test_shared_tasks_that_a_copy_lost_are_done_here():
    def lost():
        if os.getpid() != here:
            os._exit(9)
        return 7

    here = os.getpid()
    assert shared([lost] * 12, lambda place: None) == [7] * 12


def test_more_tasks_than_a_pipe_holds():
    count = module._MOST_CLAIMS + 5
    assert shared([partial(int, n) for n in range(count)], lambda place: None) == [*range(count)]


def test_what_comes_first_is_done_here_and_the_rest_once(tmp_path):
    def work(number):
        with (tmp_path / f"{number}").open("x") as file:
            file.write("done")
        return number * number

    tasks = [partial(work, number) for number in range(20)]
    assert beside(os.getpid, tasks, lambda place: None) == (
        os.getpid(),
        [number * number for number in range(20)],
    )
    assert len(list(tmp_path.iterdir())) == 20


def test_with_nothing_to_share_the_first_is_done_all_the_same():
    assert beside(lambda: 7, [], lambda place: None) == (7, [])


def test_what_comes_first_may_fail():
    def fail():
        raise ValueError("no pencil")

    with pytest.raises(ValueError, match="no pencil"):
        beside(fail, [int], lambda place: None)


def test_what_was_there_is_looked_through_for_garbage_again_afterwards():
    held = gc.get_freeze_count()
    during, _ = beside(gc.get_freeze_count, [int], lambda place: None)
    assert during > held
    assert gc.get_freeze_count() == held


WITH_THREADS = """
import os
from kernel_calls import CALLS
from toolpath.side_by_side import side_by_side
CALLS["dilate"]()
here, there = side_by_side([os.getpid], [os.getpid])
print(here != there)
"""


def test_threads_of_compiled_loops_are_no_warning():
    """From Python 3.12 on `os.fork` warns of any thread (its library reference)."""
    root = Path(__file__).parents[1]
    done = subprocess.run(
        [sys.executable, "-W", "always:This process", "-c", WITH_THREADS],
        env={**os.environ, "PYTHONPATH": f"{root}:{root}/tests/tools"},
        capture_output=True,
        text=True,
    )
    assert (done.stdout, done.stderr) == ("True\n", "")

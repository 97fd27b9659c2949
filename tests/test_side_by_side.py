import os
import threading
from functools import partial

import pytest

from toolpath import side_by_side as module
from toolpath.side_by_side import side_by_side


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

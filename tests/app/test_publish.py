"""The output folder: the whole new set or none, and never an older one."""

import errno
import os
import threading
from pathlib import Path

import pytest

from toolpath.app import publish
from toolpath.app.names import program_name
from toolpath.errors import FaultsError

WHOLE = ("programs/01-front-flat-6.nc", "pictures/plan-front.png", "sheet.html", "plan.json")


def fill(target: Path) -> None:
    for name in (*WHOLE, "notes.txt"):
        (target / name).parent.mkdir(parents=True, exist_ok=True)
        (target / name).write_text("old")


def names(target: Path) -> list[str]:
    return sorted(p.name for p in target.iterdir())


def test_clear_takes_our_things_and_nothing_else(tmp_path: Path) -> None:
    fill(tmp_path)
    publish.clear(tmp_path)
    assert names(tmp_path) == ["notes.txt"]


def test_more_programs_than_two_digits_count_are_ours(tmp_path: Path) -> None:
    (tmp_path / "programs").mkdir()
    names = [program_name(number, "front", "flat 6") for number in (9, 99, 100, 1000)]
    for name in names:
        (tmp_path / "programs" / name).write_text("M2\n")
    publish.clear(tmp_path)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("foreign", ["pictures/holiday.jpg", "programs/vase.nc", "pictures/x/a"])
def test_what_is_not_ours_is_left_and_said(tmp_path: Path, foreign: str) -> None:
    fill(tmp_path)
    (tmp_path / foreign).parent.mkdir(exist_ok=True)
    (tmp_path / foreign).write_text("mine")
    with pytest.raises(FaultsError, match="was not written by Keepclear"):
        publish.clear(tmp_path)
    assert (tmp_path / foreign).read_text() == "mine"
    assert not any((tmp_path / name).exists() for name in WHOLE)  # our older set is gone


def test_left_overs_of_killed_runs_are_taken(tmp_path: Path) -> None:
    (tmp_path / ".keepclear-123").mkdir()
    publish.clear(tmp_path)
    assert names(tmp_path) == []


def test_a_file_in_place_of_the_folder_is_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "out"
    path.write_text("mine")
    for opened in (publish.clear, lambda target: publish.fresh(target).__enter__()):
        with pytest.raises(FaultsError):
            opened(path)
    assert path.read_text() == "mine"


def test_a_link_is_taken_and_what_it_leads_to_is_not(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    fill(elsewhere)
    out = tmp_path / "out"
    out.mkdir()
    (out / "programs").symlink_to(elsewhere / "programs")
    publish.clear(out)
    assert names(out) == []
    assert (elsewhere / WHOLE[0]).exists()


def test_programs_appear_last_and_through_to_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    order: list[str] = []
    rename, sync = Path.rename, os.fsync

    def renamed(self: Path, target: Path) -> Path:
        order.append(Path(target).name)
        return rename(self, target)

    def synced(handle: int) -> None:
        order.append("synced")
        sync(handle)

    monkeypatch.setattr(Path, "rename", renamed)
    monkeypatch.setattr(os, "fsync", synced)
    with publish.fresh(tmp_path) as made:
        order.clear()
        for name in WHOLE:
            made.write(name, "new")
        assert order == ["synced"] * len(WHOLE)
        made.publish(programs=True)
    moved = [name for name in order if name != "synced"]
    assert sorted(moved) == ["pictures", "plan.json", "programs", "sheet.html"]
    assert moved[-1] == "programs" and order[-1] == "synced"
    assert names(tmp_path) == sorted(moved)


# Killed between any two of these steps: tests/e2e/test_killed.py.


FULL = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize("step", range(1, 22))
def test_on_a_full_disk_there_is_a_whole_set_or_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: int
) -> None:
    """Each call that takes room fails in turn, and all after it."""
    left = [step]

    def until_full(call):
        def called(*words, **more):
            left[0] -= 1
            if left[0] < 1:
                raise FULL
            return call(*words, **more)

        return called

    fill(tmp_path)
    monkeypatch.setattr(Path, "mkdir", until_full(Path.mkdir))
    monkeypatch.setattr(Path, "rename", until_full(Path.rename))
    monkeypatch.setattr(os, "fsync", until_full(os.fsync))
    try:
        with publish.fresh(tmp_path) as made:
            for name in WHOLE:
                made.write(name, "new")
            made.publish(programs=True)
    except FaultsError as error:
        (fault,) = error.faults
        assert fault.file == str(tmp_path)
        assert "No space left on device): make room, or name another folder" in fault.message
        assert ("could not be taken away: do not use" in fault.message) is bool(
            {path.parts[len(tmp_path.parts)] for path in tmp_path.rglob("*")} & set(publish.OURS)
        )
    else:
        assert left[0] >= 0
    texts = [(tmp_path / name).read_text() for name in WHOLE if (tmp_path / name).exists()]
    assert len(set(texts)) <= 1
    if (tmp_path / WHOLE[0]).exists():
        assert len(texts) == len(WHOLE)


def test_what_could_not_be_taken_away_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As in a folder that may only be read; root may write in those, so it is played."""

    def refuse(path: Path, *_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", str(path))

    fill(tmp_path)
    for name in ("rename", "unlink", "mkdir"):
        monkeypatch.setattr(Path, name, refuse)
    for opened in (publish.clear, lambda target: publish.fresh(target).__enter__()):
        with pytest.raises(FaultsError) as caught:
            opened(tmp_path)
        message = str(caught.value)
        assert "(Permission denied): name another folder with -o" in message
        assert message.endswith("programs, plan.json, sheet.html, pictures in it could not be "
                                "taken away: do not use them")  # fmt: skip


def test_a_parent_that_may_not_be_written_is_a_fault_of_the_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path, *_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", str(tmp_path))

    monkeypatch.setattr(Path, "mkdir", refuse)
    with pytest.raises(FaultsError, match="a/b: cannot be written"):
        publish.fresh(tmp_path / "a/b").__enter__()


def test_trouble_elsewhere_is_not_the_folder_s(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError), publish.fresh(tmp_path):
        Path("/nowhere/at/all").read_text()


def test_a_refused_set_has_no_programs(tmp_path: Path) -> None:
    with publish.fresh(tmp_path) as made:
        made.write(WHOLE[0], "refused")
        made.write("plan.json", "{}")
        made.publish(programs=False)
    assert names(tmp_path) == ["plan.json"]


def test_a_run_that_fails_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError), publish.fresh(tmp_path) as made:
        made.write(WHOLE[0], "half")
        raise RuntimeError
    assert names(tmp_path) == []


def test_a_copy_of_a_killed_run_is_waited_for(tmp_path: Path) -> None:
    held = publish.fresh(tmp_path)
    held.__enter__()
    later = threading.Timer(0.2, lambda: held.__exit__(None, None, None))
    later.start()
    publish.clear(tmp_path)
    later.join()


def test_one_run_at_a_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(publish, "PATIENCE", 0.05)
    with publish.fresh(tmp_path) as made:
        made.write(WHOLE[0], "first")
        for opened in (publish.clear, lambda target: publish.fresh(target).__enter__()):
            with pytest.raises(FaultsError, match="another run"):
                opened(tmp_path)
        made.publish(programs=True)
    assert (tmp_path / WHOLE[0]).read_text() == "first"

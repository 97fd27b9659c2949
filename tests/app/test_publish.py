"""The output folder: the whole new set or none, and never an older one."""

import os
from pathlib import Path

import pytest

from toolpath.app import publish
from toolpath.errors import FaultsError


def fill(target: Path) -> None:
    (target / "programs").mkdir(parents=True)
    (target / "programs" / "01-front-old.nc").write_text("old")
    (target / "pictures").mkdir()
    for name in ("plan.json", "sheet.html", "notes.txt"):
        (target / name).write_text("old")


def test_clear_takes_our_things_and_nothing_else(tmp_path: Path) -> None:
    fill(tmp_path)
    publish.clear(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["notes.txt"]


def test_clear_takes_what_killed_runs_left(tmp_path: Path) -> None:
    dead = 2**22 + 5  # beyond the largest process number Linux gives out
    (tmp_path / f".keepclear-{dead}").mkdir()
    (tmp_path / ".keepclear-old-77-programs").mkdir()
    alive = tmp_path / f".keepclear-{os.getppid()}"
    alive.mkdir()
    publish.clear(tmp_path)
    assert list(tmp_path.iterdir()) == [alive]


def test_clear_of_a_file_is_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "out"
    path.write_text("mine")
    with pytest.raises(FaultsError, match="is a file"):
        publish.clear(path)
    assert path.read_text() == "mine"


def test_programs_appear_last(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    order: list[str] = []
    rename = Path.rename

    def spy(self: Path, target: Path) -> Path:
        order.append(Path(target).name)
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", spy)
    with publish.scratch(tmp_path) as made:
        for name in ("programs/01.nc", "pictures/plan.png", "sheet.html", "plan.json"):
            made.write(name, "new")
        made.publish(programs=True)
    assert sorted(order) == ["pictures", "plan.json", "programs", "sheet.html"]
    assert order[-1] == "programs"
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(order)


def test_a_refused_set_has_no_programs(tmp_path: Path) -> None:
    with publish.scratch(tmp_path) as made:
        made.write("programs/01.nc", "refused")
        made.write("plan.json", "{}")
        made.publish(programs=False)
    assert [p.name for p in tmp_path.iterdir()] == ["plan.json"]


def test_a_run_that_fails_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError), publish.scratch(tmp_path) as made:
        made.write("programs/01.nc", "half")
        raise RuntimeError
    assert list(tmp_path.iterdir()) == []

"""The main job: where its results go and what lies there after it."""

import json
from pathlib import Path

import pytest

from toolpath.app.plan import default_folder, plan
from toolpath.errors import FaultsError

TRAY = ("tray", [10, 10, 30, 30])
DEEP = ("deep", [70, 30, 100, 60], 7.5)  # 0.5 over the pebble


def files(folder: Path) -> list[str]:
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


def test_the_default_folder_lies_beside_the_job() -> None:
    assert default_folder(Path("a b/wall.clock.toml")) == Path("a b/wall.clock-plan")


def test_without_a_folder_and_without_pictures(write_job) -> None:
    path = write_job(TRAY)
    done = plan(path, None, pictures=False)
    assert done.clear
    assert done.folder == path.parent / "clock-plan"
    assert done.pictures == ()
    expected = [
        "plan.json",
        "programs/01-front-flat-6.nc",
        "rehearsal/01-front-flat-6-air.nc",
        "rehearsal/01-front-flat-6-box.nc",
        "sheet.html",
    ]
    assert files(done.folder) == expected
    assert json.loads((done.folder / "plan.json").read_text()) == done.payload
    assert "<img" not in (done.folder / "sheet.html").read_text()


def test_pictures_are_where_it_says(write_job, tmp_path) -> None:
    done = plan(write_job(TRAY), tmp_path / "out")
    assert done.folder == tmp_path / "out"
    assert done.pictures
    for path in done.pictures:
        assert path.parent == tmp_path / "out/pictures"
        assert path.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")  # PNG specification, 5.2
    listed = [f"pictures/{path.name}" for path in done.pictures]
    assert [name for name in files(done.folder) if name.startswith("pictures")] == sorted(listed)


def test_a_refused_job_leaves_no_program_not_even_an_older_one(write_job, tmp_path) -> None:
    out = tmp_path / "out"
    assert plan(write_job(TRAY), out, pictures=False).clear
    assert (out / "programs").exists()
    done = plan(write_job(TRAY, DEEP), out, pictures=False)
    assert not done.clear
    assert files(out) == ["plan.json", "sheet.html"]
    assert done.payload["programs"] == []
    assert done.payload["verdict"] == "refused"
    assert not (out / "programs").exists()


def test_a_wrong_job_leaves_nothing_of_an_older_run(write_job, tmp_path) -> None:
    out = tmp_path / "out"
    plan(write_job(TRAY), out, pictures=False)
    with pytest.raises(FaultsError):
        plan(write_job(), out, pictures=False)  # no cuts
    assert files(out) == []

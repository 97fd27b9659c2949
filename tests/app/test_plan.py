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


def test_a_run_again_is_the_same_to_the_byte(write_job, tmp_path) -> None:
    path = write_job(TRAY, ("behind", [10, 50, 30, 70], 2.0, "back"))
    sets = []
    for name in ("a", "b"):
        plan(path, tmp_path / name, pictures=False)
        sets.append({p.name: p.read_bytes() for p in (tmp_path / name / "programs").iterdir()})
    assert len(sets[0]) == 2
    assert sets[0] == sets[1]


@pytest.mark.parametrize("change", ["text", "gone"])
def test_a_job_that_changes_while_it_runs_is_not_answered_for(write_job, tmp_path, change) -> None:
    path, out = write_job(TRAY), tmp_path / "out"

    def meddle(step: str) -> None:
        if step.startswith("checking"):
            path.unlink(missing_ok=True) if change == "gone" else write_job(DEEP)

    with pytest.raises(FaultsError, match=r"clock\.toml: changed or went away while this ran"):
        plan(path, out, pictures=False, progress=meddle)
    assert files(out) == []


def test_a_drawing_that_changes_while_it_runs_too(write_job, tmp_path, head) -> None:
    drawing = tmp_path / "tops.csv"
    drawing.write_text("1,2\n3,4\n")
    piece = '[[piece]]\nname = "bark"\nat = [85, 45]\nfrom_back = 3\nsolid = { kind = "heights", '
    piece += 'file = "tops.csv", size = [10, 10], low = 1, high = 4 }\n'
    path = write_job(TRAY, head=head, pieces=piece)

    def meddle(step: str) -> None:
        if step.startswith("checking"):
            drawing.write_text("1,2\n3,40\n")

    with pytest.raises(FaultsError, match=r"tops\.csv: changed"):
        plan(path, tmp_path / "out", pictures=False, progress=meddle)
    assert files(tmp_path / "out") == []

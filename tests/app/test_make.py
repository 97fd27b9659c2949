"""From a job that was read to its results: the same each time, and none for a job that is gone."""

from pathlib import Path

import pytest

from toolpath.app.load import load_job
from toolpath.app.make import make
from toolpath.app.progress import silent
from toolpath.errors import FaultsError

TRAY = ("tray", [10, 10, 30, 30])
DEEP = ("deep", [70, 30, 100, 60], 7.5)  # 0.5 over the pebble


def files(folder: Path) -> list[str]:
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


def made(path, out, progress=silent):
    return make(load_job(path), out, pictures=False, progress=progress)


def test_a_run_again_is_the_same_to_the_byte(write_job, tmp_path) -> None:
    path = write_job(TRAY, ("behind", [10, 50, 30, 70], 2.0, "back"))
    sets = []
    for name in ("a", "b"):
        made(path, tmp_path / name)
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
        made(path, out, meddle)
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
        made(path, tmp_path / "out", meddle)
    assert files(tmp_path / "out") == []

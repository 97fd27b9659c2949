import os
from pathlib import Path

import pytest
import trimesh

from toolpath.job import solids

COG = '{ kind = "cylinder", diameter = 24, height = 6 }'


def mesh(file: object) -> str:
    return f'{{ kind = "mesh", file = "{file}", unit = "mm" }}'


@pytest.fixture
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("stones") / "stone.stl"
    trimesh.creation.box(extents=(10, 10, 10)).export(file)
    return file


def test_files_outside_the_folder_are_taken_but_said(
    alarms, read, edited, elsewhere, tmp_path
) -> None:
    (tmp_path / "link.stl").symlink_to(elsewhere)
    for name in (elsewhere, os.path.relpath(elsewhere, tmp_path), "link.stl"):
        job = read(edited((COG, mesh(name))))
        (warned,) = alarms(job)
        assert warned.where == 'piece[1] "cog": solid: file'
        assert warned.message.endswith("lies outside the job's folder: keep them together")
        assert len(job.sources) == 2


def test_files_beside_the_job_or_below_it_are_not_said(
    alarms, read, edited, elsewhere, tmp_path
) -> None:
    (tmp_path / "stones").mkdir()
    (tmp_path / "stones/stone.stl").write_bytes(elsewhere.read_bytes())
    job = read(edited((COG, mesh("stones/../stones/stone.stl"))))
    assert alarms(job) == []


def test_files_that_are_none(faults, edited, tmp_path, monkeypatch) -> None:
    (tmp_path / "stones").mkdir()
    (tmp_path / "large.stl").write_bytes(b"x" * 3_000_000)
    monkeypatch.setattr(solids, "MAX_MESH_BYTES", 2_000_000)
    for name, line in (
        ("stones", '"stones" is a folder or a device, not a file: name a file'),
        ("large.stl", '"large.stl" has 3 MB; at most 2 MB are read: make it simpler'),
        ("stnes", '"stnes" cannot be found: did you mean "stones"?'),
        ("n/a.stl", "\"n/a.stl\" cannot be found: files are looked for from the job's own folder"),
        ("a" * 199, f'"{"a" * 60}…" cannot be found: '
         "files are looked for from the job's own folder"),
    ):  # fmt: skip
        assert faults(edited((COG, mesh(name)))) == [
            f'job.toml: piece[1] "cog": solid: file: {line}'
        ]

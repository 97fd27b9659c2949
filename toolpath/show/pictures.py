"""All pictures of a job, into one folder."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from toolpath.show.plan_data import sides_of
from toolpath.show.plan_picture import draw_plan
from toolpath.show.scene import CutView, Scene
from toolpath.show.section import draw_section
from toolpath.show.section_data import rank, target_of
from toolpath.show.words import slug

MOST_SECTIONS = 8
"""Sections drawn for a job, at most one a cut, the worst places first."""


def draw_all(
    scene: Scene, folder: Path, on_picture: Callable[[str], None] | None = None
) -> tuple[Path, ...]:
    """Draw the plan of each face that has cuts and the sections, as PNG in `folder`.

    `on_picture` is told the name of each picture before it is drawn. Returns the files written:
    plans first, then sections by the number of their cut. The folder is made if need be.
    """
    folder.mkdir(parents=True, exist_ok=True)
    tell = on_picture or (lambda name: None)
    written = []
    for side in sides_of(scene):
        path = folder / f"plan-{side.value}.png"
        tell(path.name)
        draw_plan(scene, side, path)
        written.append(path)
    for view in sections_of(scene):
        path = folder / section_name(view)
        tell(path.name)
        if draw_section(scene, view, path):
            written.append(path)
    return tuple(written)


def section_name(view: CutView) -> str:
    """File name of the section of a cut: section-NN-<slug>.png, NN the number of the cut."""
    return f"section-{view.number:02d}-{slug(view.planned.cut.name)}.png"


def sections_of(scene: Scene) -> tuple[CutView, ...]:
    """The cuts that get a section, by number: those with the worst places, refused ones first."""
    known = []
    for program in scene.programs:
        for view in program.cuts:
            target = target_of(scene, view)
            if target is not None:
                known.append((rank(target), view.number, view))
    known.sort(key=lambda entry: entry[:2])
    chosen = [view for _, _, view in known[:MOST_SECTIONS]]
    return tuple(sorted(chosen, key=lambda view: view.number))

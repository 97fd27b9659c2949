"""All pictures of a job, into one folder."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from toolpath.show.map_picture import draw_margin, draw_thickness, draw_uncut
from toolpath.show.maps import maps_of
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
    """Draw all pictures of a job as PNG in `folder`: of each face that has cuts its plan, its depth
    margin and what is left uncut; the plan of each plate; the thickness left; the sections.

    `on_picture` is told the name of each picture before it is drawn. Returns the files written,
    in that order, sections by the number of their cut. The folder is made if need be.
    """
    folder.mkdir(parents=True, exist_ok=True)
    tell = on_picture or (lambda name: None)
    written = []
    for name, draw in _in_plan(scene):
        path = folder / name
        tell(name)
        draw(path)
        written.append(path)
    for view in sections_of(scene):
        path = folder / section_name(view)
        tell(path.name)
        if draw_section(scene, view, path):
            written.append(path)
    return tuple(written)


def _in_plan(scene: Scene) -> Iterator[tuple[str, Callable[[Path], None]]]:
    """Names of the pictures in plan, with what draws each; the rasters are made at most once."""
    sides = sides_of(scene)
    for side in sides:
        yield f"plan-{side.value}.png", partial(draw_plan, scene, side)
    for plate in scene.plates:
        for side in sides_of(plate):
            yield plate_picture(plate), partial(draw_plan, plate, side)
    if not sides:
        return
    maps = maps_of(scene)
    for side in sides:
        yield f"margin-{side.value}.png", partial(draw_margin, scene, maps, side)
        yield f"uncut-{side.value}.png", partial(draw_uncut, scene, maps, side)
    yield "thickness-left.png", partial(draw_thickness, scene, maps)


def plate_picture(plate: Scene) -> str:
    """File name of the plan of a plate: plan-plate-<slug>.png, after the cut that it covers."""
    name = "" if plate.plate is None else plate.plate.cut.name
    return f"plan-plate-{slug(name)}.png"


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

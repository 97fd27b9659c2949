"""All pictures of a job, into one folder."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import lru_cache, partial
from importlib import import_module
from pathlib import Path
from typing import Any, TypeVar

from toolpath.job.model import Side
from toolpath.show.engaged import engaged_views
from toolpath.show.engaged_picture import draw_engaged
from toolpath.show.map_picture import draw_margin, draw_thickness, draw_uncut
from toolpath.show.maps import Maps, maps_of
from toolpath.show.plan_data import sides_of
from toolpath.show.plan_picture import draw_plan
from toolpath.show.relief_picture import draw_relief, relief_views
from toolpath.show.scene import CutView, Scene
from toolpath.show.section import draw_section
from toolpath.show.section_data import rank, target_of
from toolpath.show.words import slug
from toolpath.side_by_side import beside

T = TypeVar("T")
Draw = Callable[[Path], object]

MOST_SECTIONS = 8
"""Sections drawn for a job, at most one a cut, the worst places first."""


def draw_all(
    scene: Scene, folder: Path, on_picture: Callable[[str], None] | None = None
) -> tuple[Path, ...]:
    """Draw all pictures of a job as PNG in `folder`: of each face that has cuts its plan, its depth
    margin and what is left uncut; the plan of each plate; the thickness left; the reliefs; the path
    of each cut with a bounded engaged angle; the sections.

    `on_picture` is told the name of each picture that is drawn in this process before it is drawn
    (plans and sections may be drawn in another). Returns the files written, in that order, sections
    by the number of their cut. The folder is made if need be.
    """
    return draw_beside(lambda: None, scene, folder, on_picture)[1]


def draw_beside(
    also: Callable[[], T],
    scene: Scene,
    folder: Path,
    on_picture: Callable[[str], None] | None = None,
) -> tuple[T, tuple[Path, ...]]:
    """As `draw_all`, and something else at the same time, whose answer comes first."""
    folder.mkdir(parents=True, exist_ok=True)
    tell = on_picture or (lambda name: None)
    plans, sections = dict(_plans(scene)), sections_of(scene)
    reliefs = dict(_reliefs(scene)) | dict(_engaged(scene))
    cuts = {section_name(view): partial(draw_section, scene, view) for view in sections}
    maps = dict(_maps(scene))
    names, free = (*plans, *maps, *reliefs, *cuts), (*plans, *reliefs, *cuts)
    draws: dict[str, Draw] = {**plans, **reliefs, **cuts}
    import_module("toolpath.show.library")

    def draw_maps() -> None:
        for name, draw in maps.items():  # here, one after another: they share their rasters
            tell(name)
            draw(folder / name)

    tasks: list[Callable[[], object]] = [also]
    tasks += [partial(draws[name], folder / name) for name in free]
    _, answers = beside(draw_maps, tasks, lambda place: tell(free[place - 1]) if place else None)
    answer: Any = answers[0]
    return answer, tuple(folder / name for name in names if (folder / name).exists())


def _plans(scene: Scene) -> Iterator[tuple[str, Draw]]:
    """Names of the plans of the faces and of the plates, with what draws each."""
    for side in sides_of(scene):
        yield f"plan-{side.value}.png", partial(draw_plan, scene, side)
    for plate in scene.plates:
        for side in sides_of(plate):
            yield plate_picture(plate), partial(draw_plan, plate, side)


def _maps(scene: Scene) -> Iterator[tuple[str, Draw]]:
    """Names of the maps, with what draws each; the rasters are made once, at the first."""
    sides = sides_of(scene)
    maps = lru_cache(maxsize=1)(lambda: maps_of(scene))
    for side in sides:
        yield f"margin-{side.value}.png", partial(_margin, scene, maps, side)
        yield f"uncut-{side.value}.png", partial(_uncut, scene, maps, side)
    if sides:
        yield "thickness-left.png", lambda path: draw_thickness(scene, maps(), path)


def _reliefs(scene: Scene) -> Iterator[tuple[str, Draw]]:
    """Names of the pictures of the reliefs, with what draws each."""
    for views in relief_views(scene).values():
        yield relief_name(views[0]), partial(draw_relief, scene, views)


def _engaged(scene: Scene) -> Iterator[tuple[str, Draw]]:
    """Names of the pictures of bounded cuts, with what draws each."""
    for view in engaged_views(scene):
        yield engaged_name(view), partial(draw_engaged, scene, view)


def engaged_name(view: CutView) -> str:
    """File name of the picture of a bounded cut: engaged-NN-<slug>.png."""
    return f"engaged-{view.number:02d}-{slug(view.planned.cut.name)}.png"


def relief_name(view: CutView) -> str:
    """File name of the picture of a relief: relief-NN-<slug>.png, NN the number of its cut."""
    return f"relief-{view.number:02d}-{slug(view.planned.cut.name)}.png"


def _margin(scene: Scene, maps: Callable[[], Maps], side: Side, path: Path) -> None:
    draw_margin(scene, maps(), side, path)


def _uncut(scene: Scene, maps: Callable[[], Maps], side: Side, path: Path) -> None:
    draw_uncut(scene, maps(), side, path)


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

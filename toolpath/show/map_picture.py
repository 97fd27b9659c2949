"""Pictures of the rasters of a job: depth margin and uncut of each face, thickness left.

The margin has two sides that no eye takes for each other: blue is room to spare, and what is too
deep is vermilion at once, hatched and outlined. The thickness uses a ramp from dark to light that
reads the same without colours.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.job.model import Job, Side
from toolpath.show import colours
from toolpath.show.areas import blank_area, cut_area
from toolpath.show.canvas import PANEL, Canvas, draw_bar, draw_zero_mark, new_canvas
from toolpath.show.draw import (
    WIDTH,
    add_area,
    add_arrow,
    add_axes,
    add_text,
    house_style,
    png_bytes,
)
from toolpath.show.labels import Box, Surroundings, Wanted, place
from toolpath.show.left import LeftRow, left_more, left_rows
from toolpath.show.maps import FaceMap, Left, Maps, Spot
from toolpath.show.panel import Panel
from toolpath.show.pieces import footprint
from toolpath.show.plan_data import cuts_of, title
from toolpath.show.scene import Scene
from toolpath.show.seen import Seen, seen_from
from toolpath.show.words import Lengths, shorten

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]
Rgba = NDArray[np.float64]

SCALE = 10.0
"""Margins in mm from which on the colour stays the same."""
_SPARE_NEAR, _SPARE_FAR = (0.86, 0.93, 0.98), (0.03, 0.27, 0.55)
_BAD_NEAR, _BAD_FAR = (0.90, 0.42, 0.12), (0.45, 0.08, 0.02)
_UNCUT = (0.87, 0.87, 0.87)
_LEAST_SHOWN = 0.05
"""Area in mm² from which what is left gets a ring of its own."""
_NUMBER_ROOM = 16.0
"""Room in mm that a thickness written on the picture takes up."""


def draw_margin(scene: Scene, maps: Maps, side: Side, path: Path) -> None:
    """Write the depth margin of a face as PNG: planned floor less the deepest clear floor."""
    with house_style():
        path.write_bytes(png_bytes(margin_figure(scene, maps, side)))


def draw_uncut(scene: Scene, maps: Maps, side: Side, path: Path) -> None:
    """Write what each cut of a face leaves inside its outline as PNG."""
    with house_style():
        path.write_bytes(png_bytes(uncut_figure(scene, maps, side)))


def draw_thickness(scene: Scene, maps: Maps, path: Path) -> None:
    """Write what is left of the blank between both faces as PNG, seen from the front."""
    with house_style():
        path.write_bytes(png_bytes(thickness_figure(scene, maps)))


def margin_colours(margin: FloatArray) -> Rgba:
    """(..., 4) colours of margins in mm: blue for room to spare, deeper for more; from the first
    hundredth on the bad side vermilion, darker for worse; see-through where nothing is cut."""
    share = np.clip(np.abs(np.nan_to_num(margin, posinf=SCALE)) / SCALE, 0.0, 1.0)[..., None]
    spare = np.array(_SPARE_NEAR) + (np.array(_SPARE_FAR) - _SPARE_NEAR) * share
    bad = np.array(_BAD_NEAR) + (np.array(_BAD_FAR) - _BAD_NEAR) * share
    rgb = np.where((margin < 0.0)[..., None], bad, spare)
    return np.concatenate([rgb, (~np.isnan(margin))[..., None].astype(np.float64)], axis=-1)


def margin_figure(scene: Scene, maps: Maps, side: Side) -> Figure:
    """The depth margin, drawn; to be called under `house_style`."""
    face = maps.faces[side]
    job, seen = scene.job_of(side), seen_from(scene.job_of(side), side)
    sheet = _map_canvas(scene, seen, f"Depth margin, {title(job, side)}")
    _show(sheet, maps, seen, margin_colours(face.margin.astype(np.float64)))
    bad = np.nan_to_num(face.margin, nan=np.inf) < 0.0
    if bad.any():
        _hatch(sheet, maps, seen, bad)
    _outlines(sheet, scene, seen, side)
    lengths = sheet.lengths
    words = "no piece or clamp bears on any cut of this face"
    if face.worst is not None:
        words = _worst_words(job, face.worst, lengths)
        _callout(sheet, seen, face.worst, words, bad=face.worst[2] < 0.0)
    panel = _panel(sheet)
    _write(
        panel,
        [
            "How much deeper the cutter could go,",
            "place by place: the planned floor less the",
            "deepest floor that keeps every gap (pieces",
            "grown by their drift; clamps).",
            "",
            *textwrap.wrap(words, 46),
            "",
            "grey: not cut from this face",
            f"raster of {lengths.short(maps.grid.cell)}: coarser than the check,",
            "which alone refuses",
        ],
        sheet,
    )
    ticks = [(-SCALE / 2, "TOO DEEP"), (0.0, "0"), (SCALE, f"{lengths.short(SCALE)} or more")]
    _strip(panel, margin_colours, (-SCALE, SCALE), ticks, hatch_below_zero=True)
    return sheet.figure


def _worst_words(job: Job, worst: Spot, lengths: Lengths) -> str:
    """The least margin, where, and the piece that it is nearest to."""
    x, y, value = worst
    spot = shapely.Point(x, y)
    near = min(job.pieces, key=lambda p: footprint(p).distance(spot), default=None)
    name = f" at {shorten(near.name, 28)}" if near is not None else ""
    if value < 0.0:
        return f"TOO DEEP by {lengths.short(-value)}{name}"
    if value == 0.0:
        return f"least margin: none to spare{name}"
    return f"least margin {lengths.short_gap(value)}{name}"


def uncut_figure(scene: Scene, maps: Maps, side: Side) -> Figure:
    """What is left uncut, drawn; to be called under `house_style`."""
    face = maps.faces[side]
    job, seen = scene.job_of(side), seen_from(scene.job_of(side), side)
    sheet = _map_canvas(scene, seen, f"Left uncut, {title(job, side)}")
    _show(sheet, maps, seen, _uncut_colours(face))
    stands = ~np.isnan(face.left)
    if stands.any():
        _hatch(sheet, maps, seen, stands)
    _outlines(sheet, scene, seen, side)
    rows = left_rows(scene, side)
    _rings(sheet, seen, rows)
    panel = _panel(sheet)
    lines = ["Ringed, and listed on the sheet: what is left", "in cavities, as the check found it."]
    for words, alike in groupby(rows, key=_row_words):
        marks = [row.mark for row in alike]
        mark = marks[0] if len(marks) == 1 else f"{marks[0]}-{marks[-1]}"
        each = "" if len(marks) == 1 else "each "
        text = words.replace(": ", f": {each}", 1)
        lines += textwrap.wrap(f"{mark}  {text}", 46, subsequent_indent="    ")
    lines += textwrap.wrap(left_more(scene, side), 46)
    lines += ["", "By cut and cutter, as far as this raster sees:"]
    for part in face.parts:
        lines += _part_lines(part, sheet.lengths)
    _write(panel, lines, sheet)
    _uncut_key(panel)
    return sheet.figure


def _row_words(row: LeftRow) -> str:
    """One place in words."""
    size = f"{row.area}, {row.width} wide, {row.height} high"
    return f"{shorten(row.cut, 18)}: {size}: {row.why}"


def _part_lines(part: Left, lengths: Lengths) -> list[str]:
    """One part in words."""
    if part.area < _LEAST_SHOWN:
        amount = "nothing left"
    else:
        amount = f"{lengths.area(part.area)} left"
        amount += "" if part.last else ", for the next cutter"
    if part.reached is not None and part.area >= _LEAST_SHOWN:
        amount += _reach_words(part.reached, lengths)
    head = f"{part.number}  {shorten(part.name, 22)}, {shorten(part.cutter, 14)}: {amount}"
    return textwrap.wrap(head, 46, subsequent_indent="    ")


def _reach_words(reached: float, lengths: Lengths) -> str:
    """A relief keeps what no form of a cutter gets into; the plan tells the rest alone."""
    within = "nothing" if reached < _LEAST_SHOWN else lengths.area(reached)
    return (
        ", with all corners and grooves that its cutters do not fit into; within their reach "
        f"{within} (uncut_area_mm2 of plan.json)"
    )


def _uncut_colours(face: FaceMap) -> Rgba:
    """Left for good, left for a smaller cutter, clean floor, not cut."""
    image = np.zeros((*face.floor.shape, 4))
    image[face.floor < 0.0] = (*_SPARE_NEAR, 1.0)
    image[~np.isnan(face.later)] = (0.99, 0.85, 0.55, 1.0)
    image[~np.isnan(face.left)] = (*_BAD_NEAR, 1.0)
    return image


def thickness_figure(scene: Scene, maps: Maps) -> Figure:
    """The thickness left, drawn; to be called under `house_style`."""
    job = scene.job
    seen = seen_from(job, Side.FRONT)
    sheet = _map_canvas(scene, seen, "Thickness left after all cuts of both faces, FRONT up")
    thick = scene.final.blank.thickness
    ramp = _thickness_colours(thick)
    _show(sheet, maps, seen, ramp(maps.thickness.astype(np.float64)))
    through = maps.inside & (maps.thickness <= 0.0)
    if through.any():
        _hatch(sheet, maps, seen, through)
    for side in maps.faces:
        _outlines(sheet, scene, seen, side, pieces=False)
    _floor_numbers(sheet, scene, maps, seen)
    lengths = sheet.lengths
    words = "cut through everywhere"
    if maps.thinnest is not None:
        words = f"least thickness {lengths.short_gap(maps.thinnest[2])}"
        _callout(sheet, seen, maps.thinnest, words, bad=False)
    panel = _panel(sheet)
    lines = ["From floor to floor, or from floor to the", "other face. Pieces are not subtracted."]
    _write(panel, [*lines, "", words, "hatched white: cut through"], sheet)
    ticks = [(v, lengths.short(v) if v else "0") for v in (0.0, thick / 2, thick)]
    _strip(panel, ramp, (0.0, thick), ticks)
    return sheet.figure


def _thickness_colours(thick: float) -> Callable[[FloatArray], Rgba]:
    """Dark for thin, light for thick, white for nothing."""
    from matplotlib import colormaps

    ramp = colormaps["cividis"]

    def tints(values: FloatArray) -> Rgba:
        image = np.array(ramp(np.clip(np.nan_to_num(values) / thick, 0.0, 1.0)))
        image[values <= 0.0] = (1.0, 1.0, 1.0, 1.0)
        image[np.isnan(values)] = 0.0
        return image

    return tints


def _floor_numbers(sheet: Canvas, scene: Scene, maps: Maps, seen: Seen) -> None:
    """The thickness left in the middle of each cut, where there is room for the number."""
    done: set[str] = set()
    taken: list[BaseGeometry] = []
    for side in maps.faces:
        for view in cuts_of(scene, side):
            cut = view.planned.cut
            area = cut_area(cut)
            if cut.name in done or area.area < 150.0 or area.is_empty:
                continue
            done.add(cut.name)
            free = area.difference(shapely.union_all(taken))
            spot = shapely.point_on_surface(area if free.is_empty else free)
            taken.append(spot.buffer(_NUMBER_ROOM))
            value = _value_at(maps, maps.thickness, spot.x, spot.y)
            if value > 0.0:
                words = sheet.lengths.short(round(value, 1))
                add_text(sheet.axes, seen.point(spot.x, spot.y), words, 6.5)


def _value_at(maps: Maps, field: NDArray[np.float32], x: float, y: float) -> float:
    grid = maps.grid
    row = min(max(int((y - grid.y0) / grid.cell), 0), grid.rows - 1)
    column = min(max(int((x - grid.x0) / grid.cell), 0), grid.columns - 1)
    value = float(field[row, column])
    return 0.0 if np.isnan(value) else value


def _map_canvas(scene: Scene, seen: Seen, words: str) -> Canvas:
    """The canvas with the blank under everything."""
    job = scene.job_of(seen.side)
    margin = 0.05 * max(seen.size) + 4.0
    left, low = seen.low
    window = (
        left - margin,
        low - margin,
        left + seen.size[0] + margin,
        low + seen.size[1] + margin,
    )
    sheet = new_canvas(words, window, job)
    blank = seen.geometry(blank_area(job.blank))
    add_area(sheet.axes, blank, fc=_UNCUT, ec=colours.INK, lw=1.4, zorder=1)
    draw_zero_mark(sheet, seen)
    draw_bar(sheet, job)
    return sheet


def _show(sheet: Canvas, maps: Maps, seen: Seen, image: Rgba) -> None:
    """An image on the grid, as seen."""
    grid = maps.grid
    flip = (slice(None, None, int(seen.mirror[1])), slice(None, None, int(seen.mirror[0])))
    sheet.axes.imshow(
        image[flip],
        origin="lower",
        extent=_extent(grid.x0, grid.y0, grid.columns * grid.cell, grid.rows * grid.cell, seen),
        interpolation="nearest",
        aspect="auto",
        zorder=2,
    )
    sheet.axes.set(
        xlim=(sheet.window.left, sheet.window.right), ylim=(sheet.window.bottom, sheet.window.top)
    )


def _extent(
    x0: float, y0: float, wide: float, high: float, seen: Seen
) -> tuple[float, float, float, float]:
    """Left, right, bottom, top of a box of the blank frame as seen."""
    a, b = seen.point(x0, y0), seen.point(x0 + wide, y0 + high)
    return min(a[0], b[0]), max(a[0], b[0]), min(a[1], b[1]), max(a[1], b[1])


def _hatch(sheet: Canvas, maps: Maps, seen: Seen, mask: NDArray[np.bool_]) -> None:
    """Hatching and an outline over the cells of a mask."""
    x, y = maps.grid.centres()
    across = x * seen.mirror[0] + seen.shift[0]
    up = y * seen.mirror[1] + seen.shift[1]
    field = mask.astype(np.float64)
    look: dict[str, Any] = {
        "levels": [0.5, 1.5],
        "colors": "none",
        "hatches": ["xxxx"],
        "zorder": 4,
    }
    sheet.axes.contourf(across, up, field, **look)
    sheet.axes.contour(
        across, up, field, levels=[0.5], colors=colours.BLACK, linewidths=1.2, zorder=5
    )


def _outlines(sheet: Canvas, scene: Scene, seen: Seen, side: Side, *, pieces: bool = True) -> None:
    """Outlines of cuts and, dashed, of pieces."""
    for view in cuts_of(scene, side):
        area = seen.geometry(cut_area(view.planned.cut))
        add_area(sheet.axes, area, fc="none", ec=colours.BLUE, lw=0.8, zorder=6)
    if pieces:
        for piece in scene.job_of(side).pieces:
            dashes: dict[str, Any] = {"ec": colours.INK, "lw": 0.7, "ls": (0, (3, 2))}
            add_area(sheet.axes, seen.geometry(footprint(piece)), fc="none", zorder=6, **dashes)


def _callout(sheet: Canvas, seen: Seen, spot: Spot, words: str, *, bad: bool) -> None:
    """A ringed place with its words and its numbers on the machine."""
    x, y = seen.point(spot[0], spot[1])
    bare = sheet.lengths.bare
    text = textwrap.fill(words, 30) + f"\nX {bare(x)}  Y {bare(y)}"
    ink = colours.VERMILION if bad else colours.INK
    wide, high = sheet.size(text, 7.5, bold=True)
    wanted = Wanted(thing=Box.about(x, y, 18 * sheet.mm, 18 * sheet.mm), width=wide, height=high)
    box = place([wanted], Surroundings(window=sheet.window))[0]
    edge = (min(max(x, box.left), box.right), min(max(y, box.bottom), box.top))
    add_arrow(sheet.axes, edge, (x, y), arrowstyle="-", color=ink, lw=1.3)
    ring: dict[str, Any] = {"mfc": "none", "zorder": 16}
    sheet.axes.plot([x], [y], "o", ms=13, mec=colours.WHITE, mew=3.6, **ring)
    sheet.axes.plot([x], [y], "o", ms=13, mec=ink, mew=1.8, **ring)
    frame = {
        "boxstyle": "square,pad=0.25",
        "fc": colours.WHITE,
        "ec": ink,
        "lw": 2.0 if bad else 1.0,
    }
    add_text(sheet.axes, box.middle, text, 7.5, weight="bold", bbox=frame, path_effects=[])


def _rings(sheet: Canvas, seen: Seen, rows: tuple[LeftRow, ...]) -> None:
    """A ring round each place where something is left, with its mark; of those that would cover
    one another only the first."""
    look: dict[str, Any] = {"mfc": "none", "zorder": 16}
    done: list[tuple[float, float]] = []
    for row in rows:
        x, y = seen.point(*row.at)
        if any(math.hypot(x - a, y - b) < 9.0 * sheet.mm for a, b in done):
            continue
        done.append((x, y))
        sheet.axes.plot([x], [y], "o", ms=10, mec=colours.WHITE, mew=2.8, **look)
        sheet.axes.plot([x], [y], "o", ms=10, mec=colours.INK, mew=1.4, **look)
        add_text(sheet.axes, (x, y + 10 * sheet.mm), row.mark, 6.5, weight="bold")


def _panel(sheet: Canvas) -> Panel:
    return Panel(figure=sheet.figure, left=WIDTH - PANEL, width=PANEL - 0.1)


def _write(panel: Panel, lines: list[str], sheet: Canvas) -> float:
    """Lines from the top of the panel, as many as there is room for; where they end."""
    top = float(sheet.figure.get_size_inches()[1]) - 0.7
    for index, line in enumerate(lines):
        if top < 1.3:
            panel.write(f"and {len(lines) - index} more lines: see the sheet", top, style="italic")
            break
        panel.write(line, top)
        top -= 0.145
    return top


def _strip(
    panel: Panel,
    tints: Callable[[FloatArray], Rgba],
    span: tuple[float, float],
    ticks: list[tuple[float, str]],
    *,
    hatch_below_zero: bool = False,
) -> None:
    """The strip that says which colour is how much."""
    axes = add_axes(panel.figure, (panel.left, 0.55, panel.width - 0.35, 0.2))
    values = np.linspace(*span, 256)
    box = (*span, 0.0, 1.0)
    axes.imshow(tints(values)[None], aspect="auto", extent=box, interpolation="nearest")
    if hatch_below_zero:
        area = shapely.box(span[0], 0.0, 0.0, 1.0)
        add_area(axes, area, fc="none", ec=colours.BLACK, hatch="xxxx", lw=1.2)
    axes.set(yticks=[], xticks=[v for v, _ in ticks], xlim=span, ylim=(0.0, 1.0))
    axes.set_xticklabels([words for _, words in ticks])
    axes.tick_params(labelsize=6.8, length=2, pad=2)


def _uncut_key(panel: Panel) -> None:
    """What the three colours of the uncut map mean."""
    from matplotlib.patches import Patch

    left: dict[str, Any] = {"fc": _BAD_NEAR, "ec": colours.BLACK, "hatch": "xxxx"}
    panel.legend(
        [
            Patch(label="left at the end", **left),
            Patch(fc=(0.99, 0.85, 0.55), ec=colours.GREY, label="left for a smaller cutter"),
            Patch(fc=_SPARE_NEAR, ec=colours.BLUE, label="cut to the floor asked for"),
        ],
        bottom=0.4,
    )

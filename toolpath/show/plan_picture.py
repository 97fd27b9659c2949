"""The plan picture: one face in plan, as it is seen on the machine."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.job.model import Job, Side
from toolpath.show import colours
from toolpath.show.canvas import PANEL, Canvas, draw_bar, draw_zero_mark, new_canvas
from toolpath.show.draw import (
    WIDTH,
    add_area,
    add_arrow,
    add_text,
    house_style,
    png_bytes,
)
from toolpath.show.labels import Box, Surroundings, Wanted, place
from toolpath.show.panel import Panel, legend_handles
from toolpath.show.plan_data import (
    CutMark,
    PieceMark,
    PinMark,
    Place,
    PlanData,
    named_pieces,
    plan_data,
)
from toolpath.show.scene import Scene
from toolpath.show.words import Lengths, shorten

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]

_NAME, _CALLOUT, _NUMBER = 6.5, 7.5, 7.0
"""Sizes of letters in points."""
_SPOT = 1.5
"""Distance in mm of the spots by which lettering knows of lines."""
_CALLOUTS = 5
"""Refused places with words of their own; the others get a cross, and the sheet lists them all."""


TAB: dict[str, Any] = {
    "ls": "none",
    "marker": "s",
    "ms": 6,
    "mfc": colours.WHITE,
    "mec": colours.INK,
    "mew": 1.3,
    "zorder": 10,
}
"""How a bridge left standing is marked."""


def draw_plan(scene: Scene, side: Side, path: Path) -> None:
    """Write the plan picture of one face as PNG, 1600 pixels wide.

    Shown as the maker sees the face on the machine; the numbers along the edges are the X and Y
    that the machine shows.
    """
    path.write_bytes(plan_png(plan_data(scene, side), scene.job_of(side)))


def plan_png(data: PlanData, job: Job) -> bytes:
    """The picture of `data` as PNG."""
    with house_style():
        return png_bytes(plan_figure(data, job))


def plan_figure(data: PlanData, job: Job) -> Figure:
    """The picture of `data`, drawn; to be called under `house_style`."""
    sheet = new_canvas(data.title, data.window, job)
    _draw_things(sheet, data)
    _draw_paths(sheet.axes, data)
    taken = [*draw_zero_mark(sheet, data.seen), draw_bar(sheet, job)]
    taken += _number_cuts(sheet, data)
    _draw_words(sheet, data, taken)
    _draw_panel(sheet, data, job)
    return sheet.figure


def _draw_things(sheet: Canvas, data: PlanData) -> None:
    """Blank, cut areas, pieces and clamps, from the bottom up."""
    axes, thick = sheet.axes, data.seen.thickness
    add_area(axes, data.blank, fc=colours.RESIN, ec=colours.INK, lw=1.6, zorder=1)
    for cut in data.cuts:
        tint = colours.cut_tint(cut.depth, thick)
        add_area(axes, cut.area, fc=tint, ec=colours.BLUE, lw=0.9, zorder=2)
    for cut in data.cuts:
        tint = colours.cut_tint(cut.ledge_depth, thick)
        rim: dict[str, Any] = {"ec": colours.BLUE, "lw": 0.7, "hatch": "\\\\\\\\"}
        add_area(axes, cut.ledge, fc=tint, zorder=2, **rim)
    for piece in data.pieces:
        tint = colours.piece_tint(piece.depth, thick)
        look: dict[str, Any] = {"lw": 0.8, "alpha": 0.92}
        if piece.may_cut:
            look |= {"hatch": "...", "ls": (0, (1.5, 1.5))}
        add_area(axes, piece.nominal, fc=tint, ec=colours.INK, zorder=3, **look)
        add_area(axes, piece.grown, fc="none", ec=colours.INK, lw=0.8, ls=(0, (3, 2)), zorder=7)
    for clamp in data.clamps:
        look = {"fc": colours.PALE, "ec": colours.GREY, "hatch": "////", "lw": 1.0}
        add_area(axes, clamp.area, zorder=8, **look)
    for cut in data.cuts:
        if cut.tabs:
            axes.plot(*zip(*cut.tabs, strict=True), **TAB)
    for pin in data.pins:
        draw_pin(axes, pin)


def draw_pin(axes: Axes, pin: PinMark) -> None:
    """A register pin as a black disc with a white cross, the odd mark as a black triangle."""
    radius = max(pin.diameter / 2.0, 1.0)
    x, y = pin.at
    if pin.odd:
        axes.plot([x], [y], "^", ms=9, mfc=colours.BLACK, mec=colours.WHITE, zorder=11)
        return
    area = shapely.Point(pin.at).buffer(radius)
    add_area(axes, area, fc=colours.BLACK, ec=colours.BLACK, lw=1.3, zorder=10)
    axes.plot([x], [y], "+", ms=5, mew=1.0, color=colours.WHITE, zorder=11)


def _draw_paths(axes: Axes, data: PlanData) -> None:
    """Rapids dashed, feeds thin and solid, entries ringed."""
    axes.plot(*data.rapids.T, color=colours.RAPID, lw=0.8, ls=(0, (5, 3)), zorder=5)
    axes.plot(*data.feeds.T, color=colours.FEED, lw=0.45, zorder=6)
    rings: dict[str, Any] = {"facecolors": "none", "edgecolors": colours.INK, "linewidths": 1.0}
    axes.scatter(data.entries[:, 0], data.entries[:, 1], s=34, zorder=9, **rings)


def _number_cuts(sheet: Canvas, data: PlanData) -> list[Box]:
    """The number of each cut in its area; the boxes taken up."""
    boxes = []
    for cut in data.cuts:
        ink = colours.VERMILION if _refused(cut, data) else colours.BLUE
        disc = {"boxstyle": "circle,pad=0.22", "fc": colours.WHITE, "ec": ink, "lw": 1.2}
        add_text(
            sheet.axes,
            cut.spot,
            str(cut.number),
            _NUMBER,
            color=ink,
            weight="bold",
            bbox=disc,
            path_effects=[],
        )
        boxes.append(Box.about(*cut.spot, 15.0 * sheet.mm, 15.0 * sheet.mm))
    return boxes


def _refused(cut: CutMark, data: PlanData) -> bool:
    return any(mark.cut == cut.number for mark in data.refused)


def _draw_words(sheet: Canvas, data: PlanData, taken: list[Box]) -> None:
    """Crosses, diamonds, callouts and names, each label beside what it names."""
    _draw_marks(sheet.axes, data)
    callouts = _callouts(data)
    notes = [(place, textwrap.fill(place.text, 30)) for place in callouts]
    labels = [(piece, _piece_words(piece, sheet.lengths)) for piece in named_pieces(data)]
    stands = [
        (clamp.area, f"{shorten(clamp.name, 22)}\n{sheet.lengths.short(clamp.height)} high")
        for clamp in data.clamps
    ]
    stands += [(shapely.Point(pin.at).buffer(pin.diameter / 2), pin.name) for pin in data.pins]
    spot = 22.0 * sheet.mm
    wanted = [_framed(sheet, Box.about(*p.at, spot, spot), w) for p, w in notes]
    wanted += [_wanted(sheet, Box.of(p.grown.bounds), w, _NAME) for p, w in labels]
    wanted += [_wanted(sheet, Box.of(area.bounds), w, _NAME) for area, w in stands]
    around = Surroundings(
        window=sheet.window,
        taken=tuple(taken),
        things=tuple(want.thing for want in wanted),
        ground=_solid_boxes(data),
        lines=_line_spots(data),
    )
    found = place(wanted, around)
    for (mark, words), box in zip(notes, found, strict=False):
        _draw_callout(sheet.axes, mark, words, box, refused=mark in data.refused)
    named = [(piece.grown, words) for piece, words in labels] + stands
    for (area, words), box in zip(named, found[len(notes) :], strict=True):
        _draw_name(sheet, words, area, box)


def _callouts(data: PlanData) -> list[Place]:
    """The places that get words: the worst of each refused piece, else the closest approach."""
    chosen: list[Place] = []
    for mark in data.refused:
        named = mark.text.split(",")[0]
        if not any(named == p.text.split(",")[0] and mark.cut == p.cut for p in chosen):
            chosen.append(mark)
    return chosen[:_CALLOUTS] or list(data.closest[:1])


def _draw_marks(axes: Axes, data: PlanData) -> None:
    """A ringed cross at every refused place, open so that what lies under it is seen; a diamond
    at the nearest approach of each cut."""
    for mark in reversed(data.closest):
        face = colours.INK if mark is data.closest[0] else colours.WHITE
        look: dict[str, Any] = {"mfc": face, "mec": colours.INK, "mew": 1.0, "zorder": 16}
        axes.plot(*([v] for v in mark.at), "D", ms=6, **look)
    for mark in data.refused:
        x, y = mark.at
        axes.plot([x], [y], "x", ms=13, mew=4.5, color=colours.WHITE, zorder=16)
        axes.plot([x], [y], "x", ms=12, mew=2.6, color=colours.VERMILION, zorder=16)
        axes.plot([x], [y], "o", ms=21, mew=3.4, mfc="none", mec=colours.WHITE, zorder=16)
        axes.plot([x], [y], "o", ms=21, mew=1.8, mfc="none", mec=colours.VERMILION, zorder=16)


def _wanted(sheet: Canvas, thing: Box, words: str, points: float) -> Wanted:
    width, height = sheet.size(words, points)
    return Wanted(thing=thing, width=width, height=height)


def _framed(sheet: Canvas, thing: Box, words: str) -> Wanted:
    """A callout wanted: its bold words and the frame round them."""
    width, height = sheet.size(words, _CALLOUT, bold=True)
    frame = 7.0 * sheet.mm
    return Wanted(thing=thing, width=width + frame, height=height + frame)


def _solid_boxes(data: PlanData) -> tuple[Box, ...]:
    """Boxes of the cut areas that fill their box: names are better put elsewhere."""
    boxes = [(cut.area.area, Box.of(cut.area.bounds)) for cut in data.cuts]
    return tuple(box for area, box in boxes if area > 0.5 * box.area)


def _line_spots(data: PlanData) -> FloatArray:
    """(n, 2) spots a few millimetres apart along paths and outlines: lettering keeps off them."""
    rings = [data.blank.boundary, *(cut.area.boundary for cut in data.cuts)]
    rings += [piece.grown.boundary for piece in data.pieces]
    dense = shapely.segmentize(shapely.union_all(shapely.GeometryCollection(rings)), _SPOT)
    spots = np.concatenate([shapely.get_coordinates(dense), data.feeds, data.rapids])
    spots = spots[~np.isnan(spots).any(axis=1)]
    _, first = np.unique(np.round(spots / _SPOT), axis=0, return_index=True)
    return np.asarray(spots[first])


def _piece_words(piece: PieceMark, lengths: Lengths) -> str:
    may = "\nmay be cut" if piece.may_cut else ""
    return f"{shorten(piece.name, 22)}\n{lengths.short(piece.depth)} below{may}"


def _draw_callout(axes: Axes, mark: Place, words: str, box: Box, *, refused: bool) -> None:
    """Words in a box with a line to their place."""
    ink = colours.VERMILION if refused else colours.INK
    add_arrow(axes, _edge_towards(box, mark.at), mark.at, arrowstyle="-", color=ink, lw=1.3)
    frame = {
        "boxstyle": "square,pad=0.25",
        "fc": colours.WHITE,
        "ec": ink,
        "lw": 2.0 if refused else 1.0,
    }
    add_text(axes, box.middle, words, _CALLOUT, weight="bold", bbox=frame, path_effects=[])


def _draw_name(sheet: Canvas, words: str, area: BaseGeometry, box: Box) -> None:
    """A name beside its thing; with a thin line where it had to go further away."""
    frame = shapely.box(box.left, box.bottom, box.right, box.top)
    tail, tip = shapely.get_coordinates(shapely.shortest_line(frame, area)).tolist()
    if abs(tip[0] - tail[0]) + abs(tip[1] - tail[1]) > 0.6 * (box.top - box.bottom):
        look: dict[str, Any] = {"color": colours.GREY, "lw": 0.6, "zorder": 17}
        sheet.axes.plot((tail[0], tip[0]), (tail[1], tip[1]), **look)
    add_text(sheet.axes, box.middle, words, _NAME, linespacing=1.05)


def _edge_towards(box: Box, point: tuple[float, float]) -> tuple[float, float]:
    """The point of a box nearest to a point."""
    x = min(max(point[0], box.left), box.right)
    return x, min(max(point[1], box.bottom), box.top)


def _draw_panel(sheet: Canvas, data: PlanData, job: Job) -> None:
    """Cuts in words, legend and depth scales at the right."""
    high = sheet.figure.get_size_inches()[1]
    panel = Panel(figure=sheet.figure, left=WIDTH - PANEL, width=PANEL - 0.1)
    legend_top = panel.legend(legend_handles(data), bottom=1.18)
    panel.depth_scales(sheet.lengths, job.blank.thickness, bottom=0.28)
    panel.list_cuts(data, sheet.lengths, top=high - 0.2, bottom=legend_top + 0.1)

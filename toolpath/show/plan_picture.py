"""The plan picture: one face in plan, as it is seen on the machine."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from toolpath.job.model import Job, Side
from toolpath.show import colours
from toolpath.show.draw import (
    WIDTH,
    add_area,
    add_arrow,
    add_axes,
    add_text,
    house_style,
    new_figure,
    png_bytes,
    ruler,
    scale_bar,
    text_size,
)
from toolpath.show.labels import Box, Surroundings, Wanted, place
from toolpath.show.panel import Panel, legend_handles
from toolpath.show.plan_data import CutMark, PieceMark, Place, PlanData, plan_data
from toolpath.show.scene import Scene
from toolpath.show.words import Lengths, shorten

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEFT, _BOTTOM, _TOP, _PANEL = 0.62, 0.5, 0.62, 2.75
"""Inches round the plan: left ruler, lower ruler, title, panel at the right."""
_LOWEST, _HIGHEST = 4.6, 9.5
"""Least and greatest height of the plan in inches."""
_NAME, _CALLOUT, _NUMBER = 6.5, 7.5, 7.0
"""Sizes of letters in points."""
_CALLOUTS = 5
"""Refused places with words of their own; the others get a cross, and the sheet lists them all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """The figure, its plan axes, and how many mm of the plan a point of lettering is."""

    figure: Figure
    axes: Axes
    mm: float
    window: Box
    lengths: Lengths

    def size(self, text: str, points: float, *, bold: bool = False) -> tuple[float, float]:
        """Width and height of a text in mm of the plan, with room around it."""
        width, height = text_size(self.figure, text, points, bold=bold)
        return (width + 3.0) * self.mm, (height + 1.0) * self.mm


def draw_plan(scene: Scene, side: Side, path: Path) -> None:
    """Write the plan picture of one face as PNG, 1600 pixels wide.

    Shown as the maker sees the face on the machine; the numbers along the edges are the X and Y
    that the machine shows.
    """
    path.write_bytes(plan_png(plan_data(scene, side), scene.job))


def plan_png(data: PlanData, job: Job) -> bytes:
    """The picture of `data` as PNG."""
    with house_style():
        return png_bytes(plan_figure(data, job))


def plan_figure(data: PlanData, job: Job) -> Figure:
    """The picture of `data`, drawn; to be called under `house_style`."""
    sheet = _blank_sheet(data, job)
    _draw_things(sheet, data)
    _draw_paths(sheet.axes, data)
    taken = [*_draw_zero(sheet, data), _draw_bar(sheet, job)]
    taken += _number_cuts(sheet, data)
    _draw_words(sheet, data, taken)
    _draw_panel(sheet, data, job)
    return sheet.figure


def _blank_sheet(data: PlanData, job: Job) -> _Sheet:
    """A figure as high as the plan calls for, with rulers and title."""
    left, bottom, right, top = data.window
    room = WIDTH - _LEFT - _PANEL - 0.25
    scale = min(room / (right - left), _HIGHEST / (top - bottom))
    high = max(scale * (top - bottom), _LOWEST)
    grow_x, grow_y = (room / scale - (right - left)) / 2, (high / scale - (top - bottom)) / 2
    window = Box(left=left - grow_x, bottom=bottom - grow_y, right=right + grow_x, top=top + grow_y)
    figure = new_figure(high + _BOTTOM + _TOP)
    axes = add_axes(figure, (_LEFT, _BOTTOM, room, high))
    axes.set(xlim=(window.left, window.right), ylim=(window.bottom, window.top))
    ruler(axes, job.unit, span=max(window.right - window.left, window.top - window.bottom))
    axes.set_xlabel(f"X from zero, {job.unit.value}", fontsize=7, color=colours.GREY, labelpad=1)
    axes.set_ylabel(f"Y from zero, {job.unit.value}", fontsize=7, color=colours.GREY, labelpad=1)
    _draw_title(figure, data.title, job.name)
    return _Sheet(
        figure=figure,
        axes=axes,
        mm=1.0 / scale / 72.0,
        window=window,
        lengths=Lengths(unit=job.unit),
    )


def _draw_title(figure: Figure, title: str, name: str) -> None:
    high = figure.get_size_inches()[1]
    for text, size, weight, down in (
        (title, 11, "bold", 0.24),
        (shorten(name, 90), 8.5, "normal", 0.47),
    ):
        figure.text(
            _LEFT / WIDTH,
            1.0 - down / high,
            text,
            fontsize=size,
            weight=weight,
            va="center",
            parse_math=False,
        )


def _draw_things(sheet: _Sheet, data: PlanData) -> None:
    """Blank, cut areas, pieces and clamps, from the bottom up."""
    axes, thick = sheet.axes, data.seen.thickness
    add_area(axes, data.blank, fc=colours.RESIN, ec=colours.INK, lw=1.6, zorder=1)
    for cut in data.cuts:
        tint = colours.cut_tint(cut.depth, thick)
        add_area(axes, cut.area, fc=tint, ec=colours.BLUE, lw=0.9, zorder=2)
    for piece in data.pieces:
        tint = colours.piece_tint(piece.depth, thick)
        add_area(axes, piece.nominal, fc=tint, ec=colours.INK, lw=0.8, zorder=3, alpha=0.92)
        add_area(axes, piece.grown, fc="none", ec=colours.INK, lw=0.8, ls=(0, (3, 2)), zorder=7)
    for clamp in data.clamps:
        look: dict[str, Any] = {"fc": colours.PALE, "ec": colours.GREY, "hatch": "////", "lw": 1.0}
        add_area(axes, clamp.area, zorder=8, **look)


def _draw_paths(axes: Axes, data: PlanData) -> None:
    """Rapids dashed, feeds thin and solid, entries ringed."""
    axes.plot(*data.rapids.T, color=colours.RAPID, lw=0.8, ls=(0, (5, 3)), zorder=5)
    axes.plot(*data.feeds.T, color=colours.FEED, lw=0.45, zorder=6)
    rings: dict[str, Any] = {"facecolors": "none", "edgecolors": colours.INK, "linewidths": 1.0}
    axes.scatter(data.entries[:, 0], data.entries[:, 1], s=34, zorder=9, **rings)


def _draw_zero(sheet: _Sheet, data: PlanData) -> list[Box]:
    """The zero with its arrows; the boxes that it takes up."""
    axes, mm = sheet.axes, sheet.mm
    reach = min(34.0 * mm, 0.4 * min(data.seen.size))
    left, bottom = data.seen.low
    add_arrow(axes, (0, 0), (reach, 0), lw=2.0, mutation_scale=13)
    add_arrow(axes, (0, 0), (0, reach), lw=2.0, mutation_scale=13)
    axes.plot([0], [0], "o", ms=8, mfc=colours.WHITE, mec=colours.INK, mew=1.6, zorder=19)
    axes.plot([0], [0], "+", ms=14, color=colours.INK, mew=1.2, zorder=19)
    add_text(axes, (reach + 8.0 * mm, 0), "X+", 8.0, weight="bold")
    add_text(axes, (0, reach + 7.0 * mm), "Y+", 8.0, weight="bold")
    down = left < 0.0 and bottom < 0.0
    shift = (-14.0 if left > -1.0 else 14.0 if not down else -14.0) * mm
    words = Box.about(shift, -11.0 * mm, *sheet.size("zero", 7.5, bold=True))
    add_text(axes, words.middle, "zero", 7.5, weight="bold")
    box_x = Box(left=-5 * mm, bottom=-5 * mm, right=reach + 15 * mm, top=5 * mm)
    box_y = Box(left=-5 * mm, bottom=-5 * mm, right=5 * mm, top=reach + 12 * mm)
    return [words, box_x, box_y]


def _draw_bar(sheet: _Sheet, job: Job) -> Box:
    """A scale bar at the lower right of the window; the box that it takes up."""
    window, mm = sheet.window, sheet.mm
    length = next((v for v in (100.0, 50.0, 20.0) if v < 0.45 * (window.right - window.left)), 10.0)
    left, bottom = window.right - length - 8.0 * mm, window.bottom + 6.0 * mm
    scale_bar(sheet.axes, left, bottom, length, job.unit)
    return Box(left=left, bottom=bottom, right=left + length, top=bottom + 18.0 * mm)


def _number_cuts(sheet: _Sheet, data: PlanData) -> list[Box]:
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


def _draw_words(sheet: _Sheet, data: PlanData, taken: list[Box]) -> None:
    """Crosses, diamonds, callouts and names, each label beside what it names."""
    _draw_marks(sheet.axes, data)
    callouts = _callouts(data)
    notes = [(place, textwrap.fill(place.text, 30)) for place in callouts]
    labels = [(piece, _piece_words(piece, sheet.lengths)) for piece in reversed(data.pieces)]
    stands = [
        (clamp.area, f"{shorten(clamp.name, 22)}\n{sheet.lengths.short(clamp.height)} high")
        for clamp in data.clamps
    ]
    spot = 16.0 * sheet.mm
    wanted = [_framed(sheet, Box.about(*p.at, spot, spot), w) for p, w in notes]
    wanted += [_wanted(sheet, Box.of(p.grown.bounds), w, _NAME) for p, w in labels]
    wanted += [_wanted(sheet, Box.of(area.bounds), w, _NAME) for area, w in stands]
    around = Surroundings(
        window=sheet.window,
        taken=tuple(taken),
        things=tuple(want.thing for want in wanted),
        ground=_solid_boxes(data),
    )
    found = place(wanted, around)
    for (mark, words), box in zip(notes, found, strict=False):
        _draw_callout(sheet.axes, mark, words, box, refused=mark in data.refused)
    names = [words for _, words in (*labels, *stands)]
    for words, want, box in zip(names, wanted[len(notes) :], found[len(notes) :], strict=True):
        _draw_name(sheet, words, want, box)


def _callouts(data: PlanData) -> list[Place]:
    """The places that get words: the worst of each refused piece, else the closest approach."""
    chosen: list[Place] = []
    for mark in data.refused:
        named = mark.text.split(",")[0]
        if not any(named == p.text.split(",")[0] and mark.cut == p.cut for p in chosen):
            chosen.append(mark)
    return chosen[:_CALLOUTS] or list(data.closest[:1])


def _draw_marks(axes: Axes, data: PlanData) -> None:
    """A bold cross at every refused place, a diamond at the nearest approach of each cut."""
    for mark in reversed(data.closest):
        face = colours.INK if mark is data.closest[0] else colours.WHITE
        look: dict[str, Any] = {"mfc": face, "mec": colours.INK, "mew": 1.0, "zorder": 16}
        axes.plot(*([v] for v in mark.at), "D", ms=6, **look)
    for mark in data.refused:
        x, y = mark.at
        axes.plot([x], [y], "x", ms=17, mew=8, color=colours.WHITE, zorder=16)
        axes.plot([x], [y], "x", ms=16, mew=5.5, color=colours.BLACK, zorder=16)
        axes.plot([x], [y], "x", ms=14.5, mew=3.0, color=colours.VERMILION, zorder=16)


def _wanted(sheet: _Sheet, thing: Box, words: str, points: float) -> Wanted:
    width, height = sheet.size(words, points)
    return Wanted(thing=thing, width=width, height=height)


def _framed(sheet: _Sheet, thing: Box, words: str) -> Wanted:
    """A callout wanted: its bold words and the frame round them."""
    width, height = sheet.size(words, _CALLOUT, bold=True)
    frame = 7.0 * sheet.mm
    return Wanted(thing=thing, width=width + frame, height=height + frame)


def _solid_boxes(data: PlanData) -> tuple[Box, ...]:
    """Boxes of the cut areas that fill their box: names are better put elsewhere."""
    boxes = [(cut.area.area, Box.of(cut.area.bounds)) for cut in data.cuts]
    return tuple(box for area, box in boxes if area > 0.5 * box.area)


def _piece_words(piece: PieceMark, lengths: Lengths) -> str:
    return f"{shorten(piece.name, 22)}\n{lengths.short(piece.depth)} below"


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


def _draw_name(sheet: _Sheet, words: str, want: Wanted, box: Box) -> None:
    """A name beside its thing; with a thin line where it had to go further away."""
    tip = _edge_towards(want.thing, box.middle)
    tail = _edge_towards(box, tip)
    if abs(tip[0] - tail[0]) + abs(tip[1] - tail[1]) > 1.1 * want.height:
        look: dict[str, Any] = {"color": colours.GREY, "lw": 0.6, "zorder": 17}
        sheet.axes.plot((tail[0], tip[0]), (tail[1], tip[1]), **look)
    add_text(sheet.axes, box.middle, words, _NAME, linespacing=1.05)


def _edge_towards(box: Box, point: tuple[float, float]) -> tuple[float, float]:
    """The point of a box nearest to a point."""
    x = min(max(point[0], box.left), box.right)
    return x, min(max(point[1], box.bottom), box.top)


def _draw_panel(sheet: _Sheet, data: PlanData, job: Job) -> None:
    """Cuts in words, legend and depth scales at the right."""
    high = sheet.figure.get_size_inches()[1]
    panel = Panel(figure=sheet.figure, left=WIDTH - _PANEL, width=_PANEL - 0.1)
    legend_top = panel.legend(legend_handles(data), bottom=1.18)
    panel.depth_scales(sheet.lengths, job.blank.thickness, bottom=0.28)
    panel.list_cuts(data, sheet.lengths, top=high - 0.2, bottom=legend_top + 0.1)

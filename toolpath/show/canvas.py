"""The sheet that pictures in plan are drawn on: rulers to scale, title, zero, scale bar."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from toolpath.job.model import Job
from toolpath.show import colours
from toolpath.show.draw import (
    WIDTH,
    add_arrow,
    add_axes,
    add_text,
    new_figure,
    ruler,
    scale_bar,
    text_size,
)
from toolpath.show.labels import Box
from toolpath.show.seen import Seen
from toolpath.show.words import Lengths, shorten

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PANEL = 2.75
"""Width in inches of the panel at the right."""
_LEFT, _BOTTOM, _TOP = 0.62, 0.5, 0.62
"""Inches round the plan: left ruler, lower ruler, title."""
_ARROW = 0.75
"""Inches that an arrow of the zero takes with its letter, at least."""
Sides = tuple[float, float, float, float]
_LOWEST, _HIGHEST = 4.6, 9.5
"""Least and greatest height of the plan in inches."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Canvas:
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


def new_canvas(title: str, window: Sides, job: Job) -> Canvas:
    """A figure as high as the plan calls for, with rulers and title; `window` (left, bottom,
    right, top) is as seen from the zero, mm."""
    room = WIDTH - _LEFT - PANEL - 0.25
    left, bottom, right, top = _with_arrows(window, room)
    scale = min(room / (right - left), _HIGHEST / (top - bottom))
    high = max(scale * (top - bottom), _LOWEST)
    grow_x, grow_y = (room / scale - (right - left)) / 2, (high / scale - (top - bottom)) / 2
    shown = Box(left=left - grow_x, bottom=bottom - grow_y, right=right + grow_x, top=top + grow_y)
    figure = new_figure(high + _BOTTOM + _TOP)
    axes = add_axes(figure, (_LEFT, _BOTTOM, room, high))
    axes.set(xlim=(shown.left, shown.right), ylim=(shown.bottom, shown.top))
    ruler(axes, job.unit, span=max(shown.right - shown.left, shown.top - shown.bottom))
    axes.set_xlabel(f"X from zero, {job.unit.value}", fontsize=7, color=colours.GREY, labelpad=1)
    axes.set_ylabel(f"Y from zero, {job.unit.value}", fontsize=7, color=colours.GREY, labelpad=1)
    _draw_title(figure, title, job.name)
    return Canvas(
        figure=figure,
        axes=axes,
        mm=1.0 / scale / 72.0,
        window=shown,
        lengths=Lengths(unit=job.unit),
    )


def _with_arrows(window: Sides, room: float) -> Sides:
    """The window with room for the arrows of the zero and their letters."""
    left, bottom, right, top = window
    arrow = _ARROW / min(room / (right - left), _HIGHEST / (top - bottom))
    return left, bottom, max(right, arrow), max(top, arrow)


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


def draw_zero_mark(sheet: Canvas, seen: Seen) -> list[Box]:
    """The zero with its arrows; the boxes that it takes up."""
    axes, mm = sheet.axes, sheet.mm
    reach = min(34.0 * mm, 0.4 * min(seen.size))
    left, bottom = seen.low
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


def draw_bar(sheet: Canvas, job: Job) -> Box:
    """A scale bar at the lower right of the window; the box that it takes up."""
    window, mm = sheet.window, sheet.mm
    length = next((v for v in (100.0, 50.0, 20.0) if v < 0.45 * (window.right - window.left)), 10.0)
    left, bottom = window.right - length - 8.0 * mm, window.bottom + 6.0 * mm
    scale_bar(sheet.axes, left, bottom, length, job.unit)
    return Box(left=left, bottom=bottom, right=left + length, top=bottom + 18.0 * mm)

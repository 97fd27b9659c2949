"""The picture of a bounded cut: its path with the engaged angle as its colour.

From pale to dark for more, so that it reads without colours; what passes the bound is vermilion
and thick, and a way in, where no bound holds, is dotted.
"""

from __future__ import annotations

import math
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from toolpath.show import colours
from toolpath.show.areas import cut_area
from toolpath.show.canvas import PANEL, Canvas, draw_bar, new_canvas
from toolpath.show.draw import WIDTH, add_area, add_axes, add_text, house_style, png_bytes
from toolpath.show.engaged import LIFTED, SPARE, EngagedData, engaged_data
from toolpath.show.panel import Panel
from toolpath.show.plan_data import title
from toolpath.show.scene import CutView, Scene
from toolpath.show.seen import Seen, seen_from
from toolpath.show.words import Lengths, shorten

if TYPE_CHECKING:
    from matplotlib.colors import LinearSegmentedColormap
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]

_PALE, _DARK = "#F0E2A0", "#0B2F5C"
_MOST = math.radians(120.0)
"""Angles from which on the colour stays the same."""


def draw_engaged(scene: Scene, view: CutView, path: Path) -> None:
    """Write the engaged angle along the deepest level of a cut as PNG."""
    with house_style():
        path.write_bytes(png_bytes(engaged_figure(scene, engaged_data(scene, view))))


def engaged_figure(scene: Scene, data: EngagedData) -> Figure:
    """The path of one level, drawn; to be called under `house_style`."""
    side = data.cut.face
    job = scene.job_of(side)
    seen = seen_from(job, side)
    area = seen.geometry(cut_area(data.cut))
    left, bottom, right, top = area.bounds
    edge = 0.04 * max(right - left, top - bottom) + 1.0
    window = (left - edge, bottom - edge, right + edge, top + edge)
    words = f"Engaged angle, cut {data.number} {shorten(data.cut.name, 40)}, {title(job, side)}"
    sheet = new_canvas(words, window, job)
    add_area(sheet.axes, area, fc=colours.RESIN, ec=colours.INK, lw=1.2, zorder=1)
    _draw_path(sheet, data, seen)
    draw_bar(sheet, job)
    _draw_panel(sheet, data)
    return sheet.figure


def ramp() -> LinearSegmentedColormap:
    """From pale for little to dark for much: told apart by lightness alone."""
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list("engaged", [_PALE, "#5E8C99", _DARK])


def _draw_path(sheet: Canvas, data: EngagedData, seen: Seen) -> None:
    from matplotlib.collections import LineCollection

    xy = seen.xy(data.xy)
    pieces = np.stack([xy[:-1], xy[1:]], axis=1)
    real = ~data.first[1:]
    entry, over = data.entry[1:] & real, data.over[1:] & real
    air = real & ~entry & (data.angle[1:] <= 0.0)
    cut = real & ~entry & ~air & ~over
    angle = data.angle[1:]
    looks: list[tuple[Any, dict[str, Any]]] = [
        (air, {"colors": colours.PALE, "linewidths": 0.6, "zorder": 3}),
        (entry, {"colors": colours.GREY, "linewidths": 1.0, "linestyles": ":", "zorder": 4}),
        (over, {"colors": colours.VERMILION, "linewidths": 2.6, "zorder": 6}),
    ]
    for which, look in looks:
        sheet.axes.add_collection(LineCollection(list(pieces[which]), **look), autolim=False)
    shown = LineCollection(
        list(pieces[cut]), cmap=ramp(), array=angle[cut], linewidths=1.3, zorder=5
    )
    shown.set_clim(0.0, _MOST)
    sheet.axes.add_collection(shown, autolim=False)
    if data.over.any():
        x, y = xy[data.worst].tolist()
        sheet.axes.plot([x], [y], "o", ms=12, mfc="none", mec=colours.INK, mew=1.4, zorder=9)
        words = f"{math.degrees(data.angle[data.worst]):.0f}°"
        add_text(sheet.axes, (x, y + 11 * sheet.mm), words, 7.0, weight="bold")


def _draw_panel(sheet: Canvas, data: EngagedData) -> None:
    from matplotlib.lines import Line2D

    panel = Panel(figure=sheet.figure, left=WIDTH - PANEL, width=PANEL - 0.1)
    top = float(sheet.figure.get_size_inches()[1]) - 0.7
    for line in _words(data, sheet.lengths):
        panel.write(line, top)
        top -= 0.145
    spare = math.degrees(SPARE)
    panel.legend(
        [
            Line2D([], [], color=colours.VERMILION, lw=2.6, label=f"over the bound + {spare:g}°"),
            Line2D([], [], color=colours.GREY, lw=1.0, ls=":", label="way in: no bound"),
            Line2D([], [], color=colours.PALE, lw=1.2, label="nothing cut"),
        ],
        bottom=1.05,
    )
    axes = add_axes(panel.figure, (panel.left, 0.55, panel.width - 0.35, 0.2))
    most, bound = math.degrees(_MOST), math.degrees(data.bound)
    axes.imshow(
        np.linspace(0.0, 1.0, 256)[None], cmap=ramp(), aspect="auto", extent=(0.0, most, 0.0, 1.0)
    )
    axes.axvline(bound, color=colours.VERMILION, lw=2.0)
    ticks = sorted({0.0, bound, most})
    axes.set(yticks=[], xticks=ticks, xlim=(0.0, most))
    marks = {0.0: "0°", bound: f"bound {bound:g}°", most: f"{most:g}° +"}
    axes.set_xticklabels([marks[tick] for tick in ticks])
    axes.tick_params(labelsize=6.8, length=2, pad=2)


def _words(data: EngagedData, lengths: Lengths) -> list[str]:
    """What is shown, and what was found, line by line."""
    cutting = float(data.length[data.cutting].sum())
    free = float(data.length[(data.angle <= 0.0) & ~data.entry].sum())
    head = (
        "How much of its rim the cutter is engaged with, from the program as written, on the "
        f"{_levels(data, lengths)}."
    )
    found = [
        f"bound: {math.degrees(data.bound):g}°",
        f"within bound + {math.degrees(SPARE):g}°: {_percent(data.share_within)} of the path",
        "    that cuts (ways in left out)",
        f"most: {math.degrees(float(data.angle[data.worst])):.0f}°" if cutting else "nothing cut",
        f"path that cuts: {lengths.short(round(cutting))}",
        f"path in air: {lengths.short(round(free))}",
    ]
    return [*textwrap.wrap(head, 46), "", *found]


def _levels(data: EngagedData, lengths: Lengths) -> str:
    """Which level is shown, and the one before where they are too near to be told apart."""
    low, skin = data.level, data.cut.finish_floor
    if 0.0 < skin <= LIFTED:
        return f"last two levels, Z {lengths.bare(low + skin)} and Z {lengths.bare(low)}"
    return f"deepest level, Z {lengths.bare(low)}"


def _percent(share: float) -> str:
    """Rounded down, so that 100 % is all of it."""
    return f"{math.floor(share * 1000.0) / 10.0:.1f} %"

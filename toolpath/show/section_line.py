"""An upright section through any line: pieces with their drift, both faces' cuts, thickness.

Drawn in the blank frame: s runs from the first point of the line, z is 0 on the front face before
any cut and -thickness on the back face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from toolpath.job.model import Job, Side
from toolpath.show import colours
from toolpath.show.areas import blank_area
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
    text_size,
)
from toolpath.show.labels import Box, Surroundings, Wanted, place
from toolpath.show.pieces import Line, footprint
from toolpath.show.scene import Scene
from toolpath.show.section_data import PieceCut, pieces_on
from toolpath.show.section_stock import stock_along
from toolpath.show.seen import Seen
from toolpath.show.words import Lengths, plain, shorten
from toolpath.units import Unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Ends = tuple[tuple[float, float], tuple[float, float]]

_LEAST = 1e-6
"""A line shorter than this, mm, has no direction."""
_ROOM = 6.0
"""Room in mm round what is shown."""
_WIDE = 9.0
_LEFT = 0.65
"""Width and left edge of the section in inches."""
_THIN = 0.05
"""Thickness in mm up to which a place is cut through."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineData:
    """What a section through a line shows, (s, z); `thinnest` is s, the z of its two ends, None
    where the line meets no material."""

    ends: Ends
    length: float
    stock: BaseGeometry
    removed: BaseGeometry
    pieces: tuple[PieceCut, ...]
    thinnest: tuple[float, float, float] | None


def draw_section_line(scene: Scene, line: Ends, path: Path) -> None:
    """Write the section through a line as PNG, 1600 pixels wide, front face up.

    Parameters
    ----------
    line : ((x0, y0), (x1, y1)) in the blank frame, mm. The section is drawn from the first point
        to the second and no further.
    path : the file to write.

    Raises ValueError where both points are the same or a number is not finite.
    """
    data = line_data(scene, line)
    with house_style():
        path.write_bytes(png_bytes(line_figure(data, scene)))


def line_data(scene: Scene, line: Ends) -> LineData:
    """What is drawn; errors as for `draw_section_line`."""
    (x0, y0), (x1, y1) = line
    length = math.hypot(x1 - x0, y1 - y0)
    if not math.isfinite(length) or length < _LEAST:
        raise ValueError("a section needs two different points")
    job = scene.final
    seen = _as_drawn(job)
    plane = Line(origin=(x0, y0), direction=((x1 - x0) / length, (y1 - y0) / length))
    stock, removed = stock_along(scene, job, seen, plane)
    strip = shapely.box(0.0, -job.blank.thickness - 1e3, length, 1e3)
    stock, removed = (shapely.intersection(area, strip) for area in (stock, removed))
    return LineData(
        ends=line,
        length=length,
        stock=stock,
        removed=removed,
        pieces=pieces_on(job, seen, plane),
        thinnest=_thinnest(stock, removed),
    )


def _as_drawn(job: Job) -> Seen:
    """The blank frame itself as a way of seeing: front up, nothing moved."""
    left, low, right, high = blank_area(job.blank).bounds
    return Seen(
        side=Side.FRONT,
        mirror=(1.0, 1.0),
        shift=(0.0, 0.0),
        low=(left, low),
        size=(right - left, high - low),
        thickness=job.blank.thickness,
    )


def _thinnest(stock: BaseGeometry, removed: BaseGeometry) -> tuple[float, float, float] | None:
    """The least thickness between a floor and what lies over against it; the corners of both
    outlines are where it can be least."""
    if stock.is_empty:
        return None
    corners = shapely.get_coordinates([stock, removed])
    s = np.unique(np.round(corners[:, 0], 3))
    middles = (s[:-1] + s[1:]) / 2.0
    best: tuple[float, float, float] | None = None
    for at in middles:
        ray = shapely.LineString([(at, -1e4), (at, 1e4)])
        parts = shapely.get_parts(shapely.intersection(ray, stock))
        for part in parts:
            low, high = part.bounds[1], part.bounds[3]
            if high - low > _THIN and (best is None or high - low < best[2] - best[1] - 1e-3):
                best = (float(at), float(low), float(high))
    return best


def line_figure(data: LineData, scene: Scene) -> Figure:
    """The picture of `data`, drawn; to be called under `house_style`."""
    from matplotlib.ticker import MultipleLocator

    job = scene.final
    thick = job.blank.thickness
    wide = data.length + 2.0 * _ROOM
    up = max(thick + 2.0 * _ROOM + 6.0, wide / 6.0)
    scale = min(_WIDE / wide, 6.0 / up)
    figure = new_figure(scale * up + 3.0)
    axes = add_axes(figure, (_LEFT, 2.1, _WIDE, scale * up))
    half = _WIDE / scale / 2.0
    middle, low = data.length / 2.0, -thick / 2.0 - up / 2.0
    axes.set(xlim=(middle - half, middle + half), ylim=(low, low + up))
    ruler(axes, job.unit, span=2.0 * half)
    axes.yaxis.set_major_locator(MultipleLocator((10.0 if up < 150.0 else 20.0) * _step(job)))
    _draw_things(axes, data, thick)
    _draw_words(figure, axes, data, job, 1.0 / scale / 72.0)
    _draw_key(figure, data, job)
    _draw_heads(figure, data, job)
    return figure


def _step(job: Job) -> float:
    """What ten millimetres of the upright ruler become: half inches on an inch job."""
    return 1.0 if job.unit is Unit.MM else 1.27


def _draw_things(axes: Axes, data: LineData, thick: float) -> None:
    """Material, what is cut away, pieces with the band that has to stay clear."""
    add_area(axes, data.stock, fc="#DCE6EA", ec=colours.INK, lw=1.1, zorder=2)
    look: dict[str, Any] = {"fc": "none", "ec": colours.BLUE, "lw": 0.8, "ls": (0, (1, 1.5))}
    add_area(axes, data.removed, zorder=3, **look)
    strip = shapely.box(0.0, -1e4, data.length, 1e4)
    for piece in data.pieces:
        inside = [shapely.intersection(g, strip) for g in (piece.band, piece.nominal, piece.grown)]
        band, nominal, grown = inside
        if not piece.may_cut:
            wash: dict[str, Any] = {"fc": "#F7D9A6", "ec": colours.ORANGE, "lw": 0.6}
            add_area(axes, band.difference(grown), zorder=4, alpha=0.6, **wash)
        hatch: dict[str, Any] = {"hatch": "..."} if piece.may_cut else {}
        tint = colours.piece_tint(piece.depth, thick)
        add_area(axes, nominal, fc=tint, ec=colours.INK, lw=0.9, zorder=5, **hatch)
        add_area(axes, grown, fc="none", ec=colours.INK, lw=0.9, ls=(0, (3, 2)), zorder=6)


def _draw_words(figure: Figure, axes: Axes, data: LineData, job: Job, mm: float) -> None:
    """Names of pieces and the least thickness, none on another."""
    lengths = Lengths(unit=job.unit)
    notes: list[tuple[str, tuple[float, float]]] = []
    if data.thinnest is not None:
        s, low, high = data.thinnest
        add_arrow(axes, (s, low), (s, high), arrowstyle="<|-|>", lw=1.2, mutation_scale=7)
        notes.append((f"least here {lengths.short_gap(high - low)}", (s, (low + high) / 2.0)))
    strip = shapely.box(0.0, -1e4, data.length, 1e4)
    for piece in data.pieces:
        shown = shapely.intersection(piece.grown, strip)
        if not shown.is_empty:
            middle = shapely.point_on_surface(shown)
            may = ", may be cut" if piece.may_cut else ""
            words = f"{shorten(piece.name, 24)}{may}\n{lengths.short(piece.depth)} below the front"
            notes.append((words, (middle.x, middle.y)))
    wanted = []
    for words, at in notes:
        width, height = text_size(figure, words, 7.0)
        size = {"width": (width + 6) * mm, "height": (height + 4) * mm}
        wanted.append(Wanted(thing=Box.about(*at, 1.0, 1.0), **size))
    left, right = axes.get_xlim()
    bottom, top = axes.get_ylim()
    things = tuple(Box.of(piece.grown.bounds) for piece in data.pieces if not piece.grown.is_empty)
    around = Surroundings(window=Box(left=left, bottom=bottom, right=right, top=top), things=things)
    for (words, at), box in zip(notes, place(wanted, around), strict=True):
        edge = (min(max(at[0], box.left), box.right), min(max(at[1], box.bottom), box.top))
        add_arrow(axes, edge, at, arrowstyle="-", lw=0.7)
        frame = {"boxstyle": "square,pad=0.15", "fc": colours.WHITE, "ec": colours.PALE, "lw": 0.6}
        add_text(axes, box.middle, words, 7.0, bbox=frame, path_effects=[])


def _draw_key(figure: Figure, data: LineData, job: Job) -> None:
    """A small plan seen from the front with the line in it."""
    axes = add_axes(figure, (_LEFT, 0.15, 2.4, 1.5))
    axes.set_aspect("equal")
    blank = blank_area(job.blank)
    add_area(axes, blank, fc=colours.RESIN, ec=colours.INK)
    axes.update_datalim(np.reshape(blank.bounds, (2, 2)))
    for piece in job.pieces:
        add_area(axes, footprint(piece), fc=colours.PALE, ec=colours.GREY, lw=0.6)
    add_arrow(axes, *data.ends, color=colours.VERMILION, lw=1.4)
    axes.autoscale_view()
    axes.set_axis_off()
    axes.set_title("where it lies (plan of the FRONT)", fontsize=7, color=colours.GREY, pad=2)


def _draw_heads(figure: Figure, data: LineData, job: Job) -> None:
    """Title, and what the numbers are."""
    lengths = Lengths(unit=job.unit)
    (x0, y0), (x1, y1) = ((lengths.bare(x), lengths.bare(y)) for x, y in data.ends)
    high = float(figure.get_size_inches()[1])
    head = f"Section from X {x0}  Y {y0} to X {x1}  Y {y1} of the drawing, FRONT face up"
    note = (
        "Material as after all cuts of both faces. Dashed: where a piece may lie, drift added; "
        "orange: has to stay clear. Z 0 is the front face before any cut."
    )
    for text, size, weight, top in (
        (head, 11.5, "bold", 0.25),
        (shorten(plain(job.name), 90), 8.5, "normal", 0.48),
        (note, 7.5, "normal", 0.68),
    ):
        look: dict[str, Any] = {"fontsize": size, "weight": weight, "va": "center"}
        figure.text(_LEFT / WIDTH, 1 - top / high, text, parse_math=False, **look)

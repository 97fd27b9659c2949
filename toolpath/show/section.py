"""The section picture: an upright cut through the worst or nearest place, drawn to scale."""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

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
from toolpath.show.pieces import footprint
from toolpath.show.scene import CutView, ProgramView, Scene
from toolpath.show.section_data import SectionData, section_data, worst_cut
from toolpath.show.words import (
    PART_WORDS,
    SIDE_WORDS,
    Lengths,
    left_words,
    plain,
    refused_words,
    shorten,
)

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_HEIGHT = 7.0
_MAIN = (0.6, 0.5, 5.6, 5.6)
_DETAIL = (6.7, 2.55, 3.1, 3.1)
_KEY = (6.7, 0.5, 3.1, 1.45)
_LARGE_KEY = (6.7, 1.9, 3.1, 3.6)
"""Axes in inches: left, bottom, width, height."""
_DIFFERS = 0.1
"""A difference in mm between drawing and check that is worth a word."""
_WIDE_GAP = 8.0
"""A gap in mm that needs no enlarging."""
_NAMED = 12
"""Pieces named in one section: more names than that hide the cutter."""
_LEAST_DETAIL, _MOST_DETAIL = 8.0, 60.0
"""Least and greatest width in mm of the enlarged part."""


def draw_section(scene: Scene, view: CutView | ProgramView, path: Path) -> bool:
    """Write the section through the worst refused or the nearest place of a cut (of a program:
    of its worst cut) as PNG, 1600 pixels wide, as it stands on the machine.

    Returns False, and writes nothing, where the cut comes near no piece.
    """
    cut = worst_cut(view, scene) if isinstance(view, ProgramView) else view
    data = section_data(scene, cut) if cut is not None else None
    if data is None:
        return False
    path.write_bytes(section_png(data, scene.job_of(data.side)))
    return True


def section_png(data: SectionData, job: Job) -> bytes:
    """The picture of `data` as PNG."""
    with house_style():
        return png_bytes(section_figure(data, job))


def section_figure(data: SectionData, job: Job) -> Figure:
    """The picture of `data`, drawn; to be called under `house_style`."""
    figure = new_figure(_HEIGHT)
    main = _main_axes(figure, data, job)
    _draw_all(main, data, job)
    _name_all(figure, main, data, Lengths(unit=job.unit))
    _draw_nearest(figure, main, data, job)
    _draw_key(figure, data, job)
    _draw_heads(figure, data, job)
    return figure


def _main_axes(figure: Figure, data: SectionData, job: Job) -> Axes:
    axes = add_axes(figure, _MAIN)
    left, bottom, right, top = data.window
    axes.set(xlim=(left, right), ylim=(bottom, top))
    ruler(axes, job.unit, span=right - left)
    unit = job.unit.value
    axes.set_ylabel(
        f"Z of the program, {unit} (0 = this face before any cut)",
        fontsize=7,
        color=colours.GREY,
        labelpad=1,
    )
    axes.set_xlabel(
        f"distance from the cutter's axis, {unit}", fontsize=7, color=colours.GREY, labelpad=1
    )
    return axes


def _draw_heads(figure: Figure, data: SectionData, job: Job) -> None:
    """Title, the cut, and what the figures are."""
    name = shorten(data.cut.name, 48)
    verdict = "REFUSED" if data.target.refused else "closest approach"
    head = f"Section: cut {data.number}, {name}: {verdict}"
    colour = colours.VERMILION if data.target.refused else colours.INK
    x, y = data.seen.point(*data.target.at[:2])
    lengths = Lengths(unit=job.unit)
    side = SIDE_WORDS[data.side]
    where = (
        f"{side} face up, as on the machine, through X {lengths.bare(x)}  Y {lengths.bare(y)}; "
        f"material as after all cuts of both faces"
    )
    note = (
        "Gaps are those of the check of the written program, to the piece grown by its drift. "
        "Pieces stand where the job says. " + _drawn_words(data, lengths)
    )
    for text, size, weight, ink, top in (
        (head, 12, "bold", colour, 0.26),
        (where, 8.5, "normal", colours.INK, 0.5),
        (note, 7, "normal", colours.GREY, 0.7),
    ):
        figure.text(
            0.6 / WIDTH,
            1 - top / _HEIGHT,
            text,
            fontsize=size,
            weight=weight,
            color=ink,
            va="center",
            parse_math=False,
        )


def _drawn_words(data: SectionData, lengths: Lengths) -> str:
    """What to say where the distance drawn is not the one that the check found."""
    if data.nearest is None or data.target.gap is None:
        return ""
    (s0, z0), (s1, z1) = data.nearest
    drawn = math.hypot(s1 - s0, z1 - z0)
    if abs(drawn - data.target.gap) <= max(_DIFFERS, 0.05 * drawn):
        return ""
    return f"Distance as drawn: {lengths.short(drawn)}."


def _draw_all(axes: Axes, data: SectionData, job: Job) -> None:
    """Bed, material, pieces, clamps and cutter, from the back to the front."""
    left, _, right, _ = data.window
    thick = job.blank.thickness
    bed = shapely.box(left * 4, left * 4, right * 4, data.bed)
    add_area(axes, bed, fc=colours.SPOILBOARD, ec="none", alpha=0.45, zorder=1)
    add_area(axes, data.stock, fc="#DCE6EA", ec=colours.INK, lw=1.1, zorder=2)
    look: dict[str, Any] = {"fc": "none", "ec": colours.BLUE, "lw": 0.8, "ls": (0, (1, 1.5))}
    add_area(axes, data.removed, zorder=3, **look)
    for clamp in data.clamps:
        add_area(axes, clamp, fc=colours.PALE, ec=colours.GREY, hatch="////", zorder=3)
    _draw_pieces(axes, data, thick)
    _draw_cutter(axes, data)


def _draw_pieces(axes: Axes, data: SectionData, thick: float) -> None:
    for piece in data.pieces:
        if piece.is_target:
            band = piece.band.difference(piece.grown)
            add_area(
                axes, band, fc="#F7D9A6", ec=colours.ORANGE, lw=0.7, hatch="\\\\\\\\", zorder=4
            )
        tint = colours.piece_tint(piece.depth, thick)
        look: dict[str, Any] = {"ls": (0, (1.5, 1.5)), "hatch": "..."} if piece.may_cut else {}
        add_area(axes, piece.nominal, fc=tint, ec=colours.INK, lw=0.9, zorder=5, **look)
        add_area(axes, piece.grown, fc="none", ec=colours.INK, lw=1.0, ls=(0, (3, 2)), zorder=7)


def _draw_cutter(axes: Axes, data: SectionData) -> None:
    """The turning cutter, see-through, and what of it lies in a grown piece or its band."""
    if not data.cutter.shoe.is_empty:  # behind the legend, which it may reach
        add_area(axes, data.cutter.shoe, fc=colours.SHOE, ec=colours.INK, lw=1.1, zorder=2)
    for part, fill in (
        (data.cutter.nut, colours.NUT),
        (data.cutter.shank, colours.SHANK),
        (data.cutter.neck, colours.SHANK),
        (data.cutter.flutes, colours.FLUTES),
    ):
        if not part.is_empty:
            add_area(axes, part, fc=fill, ec=colours.INK, lw=1.1, alpha=0.75, zorder=6)
    if data.target.refused:
        for piece in data.pieces:
            if piece.is_target:
                hit = shapely.intersection(piece.band, data.cutter.whole)
                look: dict[str, Any] = {"fc": colours.WHITE, "ec": colours.VERMILION}
                add_area(axes, hit, hatch="xxxxxx", lw=1.6, zorder=8, **look)
    axes.axvline(0.0, color=colours.GREY, lw=0.6, ls=(0, (12, 3, 2, 3)), zorder=9)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Note:
    """Words for a thing; the point that a line goes to."""

    words: str
    point: tuple[float, float]
    size: float = 7.0


def _name_all(figure: Figure, axes: Axes, data: SectionData, lengths: Lengths) -> None:
    """Face names, and the parts and pieces by name, none on another."""
    left, bottom, right, top = data.window
    mm = (right - left) / _MAIN[2] / 72.0
    taken = (*_name_faces(axes, data, mm), _legend(axes, data), *_gap_room(data, mm))
    notes = _notes(data, lengths)
    wanted = []
    for note in notes:
        width, height = text_size(figure, note.words, note.size)
        thing = Box.about(*note.point, 1.0, 1.0)
        wanted.append(Wanted(thing=thing, width=(width + 6) * mm, height=(height + 4) * mm))
    solid = [data.cutter.flutes, data.cutter.shank, data.cutter.nut]
    solid += [piece.grown for piece in data.pieces]
    things = tuple(Box.of(s.bounds) for s in solid if not s.is_empty)
    around = Surroundings(
        window=Box(left=left, bottom=bottom, right=right, top=top), taken=taken, things=things
    )
    for note, box in zip(notes, place(wanted, around), strict=True):
        x = min(max(note.point[0], box.left), box.right)
        y = min(max(note.point[1], box.bottom), box.top)
        add_arrow(axes, (x, y), note.point, arrowstyle="-", lw=0.7, color=colours.INK)
        frame = {"boxstyle": "square,pad=0.15", "fc": colours.WHITE, "ec": colours.PALE, "lw": 0.6}
        add_text(axes, box.middle, note.words, note.size, bbox=frame, path_effects=[])


def _legend(axes: Axes, data: SectionData) -> Box:
    """What the outlines and hatches mean, at the upper left; the box that it takes up."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    near = colours.piece_tint(data.seen.thickness * 0.3, data.seen.thickness)
    dashes: dict[str, Any] = {"color": colours.INK, "lw": 1.0, "ls": (0, (3, 2))}
    signs: list[Artist] = [
        Patch(fc="#DCE6EA", ec=colours.INK, label="material left"),
        Patch(fc=near, ec=colours.INK, label="piece, as stated"),
        Line2D([], [], label="where it may lie", **dashes),
        Patch(fc="#F7D9A6", ec=colours.ORANGE, hatch="\\\\\\\\", label="has to stay clear"),
    ]
    if data.target.refused and data.target.piece is not None:
        look: dict[str, Any] = {"fc": colours.WHITE, "ec": colours.VERMILION, "hatch": "xxxxxx"}
        signs.append(Patch(label="REFUSED: cutter in it", **look))
    axes.legend(handles=signs, loc="upper left", fontsize=6.6, framealpha=0.95)
    left, bottom, right, top = data.window
    wide, high = 0.34 * (right - left), (0.055 * len(signs) / 1.6 + 0.02) * (top - bottom)
    return Box(left=left, bottom=top - high, right=left + wide, top=top)


def _gap_room(data: SectionData, mm: float) -> tuple[Box, ...]:
    """The box round the gap's dimension where it stands in the main view."""
    if data.nearest is None or not _is_wide(data):
        return ()
    x, y = _detail_centre(data)
    return (Box.about(x, y, 70.0 * mm, 50.0 * mm),)


def _is_wide(data: SectionData) -> bool:
    """Whether the gap is too wide to be enlarged."""
    return data.target.gap is not None and data.target.gap > _WIDE_GAP


def _name_faces(axes: Axes, data: SectionData, mm: float) -> tuple[Box, ...]:
    """The names of both faces at the left; the boxes that they take up."""
    up, down = ("FRONT", "BACK") if data.side is Side.FRONT else ("BACK", "FRONT")
    left = data.window[0]
    boxes = []
    for words, z, va in (
        (f"{up} face, up", 1.2 * mm, "bottom"),
        (f"{down} face, on the bed", data.bed - 1.2 * mm, "top"),
    ):
        x = left + 3 * mm
        add_text(axes, (x, z), words, 8, ha="left", va=va, weight="bold")
        wide, middle = 5.6 * len(words) * mm, z + (6 if va == "bottom" else -6) * mm
        boxes.append(Box.about(x + wide / 2, middle, wide, 12 * mm))
    return tuple(boxes)


def _notes(data: SectionData, lengths: Lengths) -> list[_Note]:
    """What is named in the main view."""
    cutter = data.turning
    _, _, right, nut_top = data.cutter.nut.bounds
    nut_low = data.cutter.nut.bounds[1]
    tip = (-0.55 * cutter.radius, data.tip_z + 0.3 * cutter.flute_length)
    notes = [
        _Note(words=f"tip at Z {lengths.short(data.tip_z)}", point=(0.0, data.tip_z)),
        _Note(
            words=f"{shorten(cutter.name, 24)}\n{lengths.short(cutter.diameter)} across", point=tip
        ),
        _Note(
            words="collet nut",
            point=(0.7 * right, min((nut_low + nut_top) / 2, nut_low + 4.0)),
        ),
    ]
    if not data.cutter.shoe.is_empty:
        _, low, right, _ = data.cutter.shoe.bounds
        notes.append(_Note(words="dust shoe", point=(0.8 * min(right, data.window[2]), low + 2.0)))
    return notes + _piece_notes(data, lengths)


def _piece_notes(data: SectionData, lengths: Lengths) -> list[_Note]:
    """Names of the pieces in view: the one meant, then the nearest to the cutter's axis."""
    notes = []
    for piece in sorted(data.pieces, key=lambda piece: not piece.is_target):
        shape = piece.nominal if not piece.nominal.is_empty else piece.grown
        shown = shapely.intersection(shape, shapely.box(*data.window))
        if shown.is_empty:
            continue
        middle = shapely.point_on_surface(shown)
        may = "\nmay be cut" if piece.may_cut else ""
        words = f"{shorten(piece.name, 24)}{may}\n{lengths.short(piece.depth)} below this face"
        notes.append(_Note(words=words, point=(middle.x, middle.y)))
    return notes[:1] + sorted(notes[1:], key=lambda note: abs(note.point[0]))[: _NAMED - 1]


def _draw_nearest(figure: Figure, main: Axes, data: SectionData, job: Job) -> None:
    """The finding in words, and the gap as a dimension: enlarged unless it is wide."""
    lengths = Lengths(unit=job.unit)
    _detail_words(figure, data, lengths)
    if data.target.piece is None:
        return
    if not _is_wide(data):
        _draw_detail(figure, main, data, job)
    else:
        mm = (data.window[2] - data.window[0]) / _MAIN[2] / 72.0
        _dimensions(main, data, mm, lengths)


def _draw_detail(figure: Figure, main: Axes, data: SectionData, job: Job) -> None:
    """The nearest place enlarged, with the gap and the needed gap as dimensions."""
    target = data.target
    centre = _detail_centre(data)
    span = max(target.gap or 0.0, target.needed or 0.0) * 4.5
    half = min(max(span, _LEAST_DETAIL), _MOST_DETAIL) / 2
    axes = add_axes(figure, _DETAIL)
    window = (centre[0] - half, centre[1] - half, centre[0] + half, centre[1] + half)
    _draw_all(axes, data, job)
    axes.set(xlim=(window[0], window[2]), ylim=(window[1], window[3]))
    ruler(axes, job.unit, span=4.0 * half)
    frame = shapely.box(*window)
    add_area(main, frame, fc="none", ec=colours.GREY, lw=0.9, zorder=15)
    _dimensions(axes, data, 2 * half / _DETAIL[2] / 72.0, Lengths(unit=job.unit))
    times = (_DETAIL[2] / (2 * half)) / (_MAIN[2] / (data.window[2] - data.window[0]))
    axes.set_title(f"enlarged {times:.1f} times", fontsize=7.5, color=colours.GREY, pad=3)


def _detail_centre(data: SectionData) -> tuple[float, float]:
    """The middle of the gap, or of the overlap."""
    if data.nearest is not None:
        (s0, z0), (s1, z1) = data.nearest
        return (s0 + s1) / 2, (z0 + z1) / 2
    for piece in data.pieces:
        hit = shapely.intersection(piece.grown, data.cutter.whole)
        if piece.is_target and not hit.is_empty:
            return hit.centroid.x, hit.centroid.y
    return 0.0, data.tip_z


def _detail_words(figure: Figure, data: SectionData, lengths: Lengths) -> None:
    """The finding in words over the enlarged part."""
    target = data.target
    if target.finding is not None:
        words = refused_words(target.finding, lengths)
        part = target.finding.part
    else:
        if target.piece is None or target.gap is None or target.needed is None:
            return
        name = shorten(target.piece.name, 28)
        words = (
            f"{name}, {left_words(target.gap, lengths)}, {lengths.bare_need(target.needed)} needed"
        )
        part = None
    if part is not None:
        words += f" ({PART_WORDS[part]})"
    ink = colours.VERMILION if target.refused else colours.INK
    figure.text(
        _DETAIL[0] / WIDTH,
        (_DETAIL[1] + _DETAIL[3] + 0.28) / _HEIGHT,
        textwrap.fill(plain(words), 44),
        fontsize=8,
        weight="bold",
        color=ink,
        va="bottom",
        parse_math=False,
    )


def _dimensions(axes: Axes, data: SectionData, mm: float, lengths: Lengths) -> None:
    """The gap from cutter to piece, and beside it the gap that is needed, from the piece.

    `mm` is what a point of lettering measures in the axes.
    """
    target = data.target
    if data.nearest is None or target.gap is None or target.needed is None:
        return
    (s0, z0), (s1, z1) = data.nearest
    length = math.hypot(s1 - s0, z1 - z0)
    if length == 0.0:
        return
    us, uz = (s0 - s1) / length, (z0 - z1) / length
    across = (-uz, us) if us < 0.7 else (uz, -us)
    aside = 38.0 * mm
    _dimension(axes, (s1, z1), (s0, z0), lengths.short_gap(target.gap), across, mm)
    if _is_wide(data):
        return
    base = (s1 - across[0] * aside, z1 - across[1] * aside)
    tip = (base[0] + us * target.needed, base[1] + uz * target.needed)
    away = (-across[0], -across[1])
    _dimension(axes, base, tip, f"{lengths.bare_need(target.needed)} needed", away, mm)
    for a, b in (((s1, z1), base), ((s0, z0), (s0, z0))):
        axes.plot((a[0], b[0]), (a[1], b[1]), color=colours.INK, lw=0.7, ls=":", zorder=16)


def _dimension(
    axes: Axes,
    start: tuple[float, float],
    end: tuple[float, float],
    words: str,
    away: tuple[float, float],
    mm: float,
) -> None:
    """A dimension line with arrow heads at both ends and its words to one side."""
    size = 8.0
    wide, high = 0.62 * size * len(words) / 2, size / 2
    short = math.hypot(end[0] - start[0], end[1] - start[1]) < 16.0 * mm
    style = "|-|,widthA=0.3,widthB=0.3" if short else "<|-|>"
    add_arrow(axes, start, end, arrowstyle=style, lw=1.1, mutation_scale=7)
    out = (abs(away[0]) * wide + abs(away[1]) * high + 7.0) * mm
    x = (start[0] + end[0]) / 2 + away[0] * out
    y = (start[1] + end[1]) / 2 + away[1] * out
    frame = {"boxstyle": "square,pad=0.15", "fc": colours.WHITE, "ec": colours.INK, "lw": 0.7}
    add_text(axes, (x, y), words, size, weight="bold", bbox=frame, path_effects=[])


def _draw_key(figure: Figure, data: SectionData, job: Job) -> None:
    """A small plan of the face with the line of the section."""
    axes = add_axes(figure, _LARGE_KEY if data.target.piece is None or _is_wide(data) else _KEY)
    axes.set_aspect("equal")
    blank = data.seen.geometry(blank_area(job.blank))
    add_area(axes, blank, fc=colours.RESIN, ec=colours.INK)
    axes.update_datalim(np.reshape(blank.bounds, (2, 2)))
    for piece in job.pieces:
        area = data.seen.geometry(footprint(piece))
        add_area(axes, area, fc=colours.PALE, ec=colours.GREY, lw=0.6)
    (x, y), (ux, uy) = data.line.origin, data.line.direction
    left, right = data.window[0], data.window[2]
    ends = [(x + s * ux, y + s * uy) for s in (left, right)]
    axes.plot(*zip(*ends, strict=True), color=colours.VERMILION, lw=1.4)
    axes.plot([x], [y], "o", ms=3.5, color=colours.INK)
    axes.autoscale_view()
    axes.set_axis_off()
    axes.margins(0.08)
    axes.set_title(
        f"where the section lies (plan of the {SIDE_WORDS[data.side]})",
        fontsize=7,
        color=colours.GREY,
        pad=2,
    )

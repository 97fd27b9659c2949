"""The panel at the right of a plan picture: the cuts in words, the legend, the depth scales."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from toolpath.show import colours
from toolpath.show.colours import Rgb
from toolpath.show.draw import add_axes
from toolpath.show.plan_data import CutMark, PlanData, named_pieces
from toolpath.show.words import Lengths, shorten

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure

_SIZE = 7.2
_LINE = 1.32 * _SIZE / 72.0
"""Height of a line in inches."""
_WIDE = 52
"""Characters on a line."""
_RING = {"ls": "none", "marker": "o", "mfc": "none", "mec": colours.INK, "ms": 6}
"""What the signs of places in the legend have in common."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A column of a figure; lengths in inches from the figure's lower left corner."""

    figure: Figure
    left: float
    width: float

    def write(self, text: str, top: float, **look: Any) -> None:
        """One line of text with its upper edge at `top`."""
        width, height = self.figure.get_size_inches()
        settings = {"fontsize": _SIZE, "va": "top", "color": colours.INK, "parse_math": False}
        self.figure.text(self.left / width, top / height, text, **{**settings, **look})

    def list_cuts(self, data: PlanData, lengths: Lengths, top: float, bottom: float) -> None:
        """The cuts, refused ones first, as many as there is room for."""
        self.write("Cuts in order", top, weight="bold", fontsize=8.5)
        y = top - 0.2
        stopped = {mark.cut for mark in data.refused}
        cuts = sorted(data.cuts, key=lambda cut: (cut.number not in stopped, cut.number))
        for done, cut in enumerate(cuts):
            lines = cut_lines(cut, data, lengths)
            rest = len(cuts) - done
            if y - (len(lines) + (rest > 1)) * _LINE < bottom:
                self.write(f"and {rest} more: see the sheet", y, style="italic")
                return
            y = self._entry(lines, y, refused=cut.number in stopped)

    def _entry(self, lines: list[str], top: float, *, refused: bool) -> float:
        """Lines of one cut; where the next one starts."""
        for index, line in enumerate(lines):
            look: dict[str, Any] = {"weight": "bold"} if index == 0 else {}
            if refused and index == 0:
                look["color"] = colours.VERMILION
            self.write(line, top, **look)
            top -= _LINE
        return top - 0.05

    def legend(self, handles: list[Artist], bottom: float) -> float:
        """The legend standing on `bottom`; its upper edge."""
        from matplotlib.legend_handler import HandlerPatch

        width, height = self.figure.get_size_inches()
        legend = self.figure.legend(
            handles=handles,
            loc="lower left",
            bbox_to_anchor=((self.left - 0.08) / width, bottom / height),
            fontsize=_SIZE,
            frameon=False,
            handlelength=2.6,
            labelspacing=0.42,
            handler_map={HandlerPatch: HandlerPatch()},
        )
        renderer = self.figure.canvas.get_renderer()  # type: ignore[attr-defined]
        return float(legend.get_window_extent(renderer).y1 / self.figure.dpi)

    def depth_scales(self, lengths: Lengths, thickness: float, bottom: float) -> None:
        """Two strips that say which tint is how deep."""
        for row, (words, tint) in enumerate(
            (
                ("cut: depth of its floor", colours.cut_tint),
                ("piece: depth of its top", colours.piece_tint),
            )
        ):
            self._strip(words, tint, lengths, thickness, bottom + 0.44 * row)

    def _strip(
        self,
        words: str,
        tint: Callable[[float, float], Rgb],
        lengths: Lengths,
        thickness: float,
        bottom: float,
    ) -> None:
        axes = add_axes(self.figure, (self.left, bottom, self.width - 0.25, 0.11))
        depths = np.linspace(0.0, thickness, 64)
        axes.imshow([[tint(d, thickness) for d in depths]], aspect="auto", extent=(0, 1, 0, 1))
        axes.set(yticks=[], xticks=[0, 0.5, 1])
        ticks = [lengths.bare(0), lengths.bare(thickness / 2), lengths.short(thickness)]
        axes.set_xticklabels(ticks)
        axes.tick_params(labelsize=6.5, length=2, pad=1.5)
        self.write(words, bottom + 0.26, fontsize=6.8)


def cut_lines(cut: CutMark, data: PlanData, lengths: Lengths) -> list[str]:
    """A cut in a few lines: number and name, depth, cutter, its nearest approach or why it is
    refused."""
    depth = "right through" if cut.through else f"{lengths.short(cut.depth)} deep"
    stopped = [mark.text for mark in data.refused if mark.cut == cut.number]
    nearest = [mark.text for mark in data.closest if mark.cut == cut.number]
    if not cut.ledge.is_empty:
        depth += f", ledge {lengths.short(cut.ledge_depth)}"
    first = f"{cut.number}  {shorten(cut.name, 36)}, {depth}, {shorten(cut.cutter, 24)}"
    lines = textwrap.wrap(first, _WIDE - 8)
    for text in (stopped or nearest)[:1] or ["no piece near"]:
        more = f" (and {len(stopped) - 1} more)" if len(stopped) > 1 else ""
        lines += textwrap.wrap(text + more, _WIDE, initial_indent="   ", subsequent_indent="   ")
    return lines


def _pieces_label(data: PlanData) -> str:
    """Says so where not every piece is named in the picture."""
    named, count = len(named_pieces(data)), len(data.pieces)
    return "piece, as stated" + (f": {named} of {count} named" if named < count else "")


def legend_handles(data: PlanData) -> list[Artist]:
    """What each sign means; only signs that are on the picture."""
    return [sign for shown, sign in [*_areas(data), *_ways(data), *_marks(data)] if shown]


def _areas(data: PlanData) -> list[tuple[bool, Artist]]:
    """Cuts, pieces, clamps."""
    from matplotlib.patches import Patch

    thick = data.seen.thickness
    tint, near = colours.cut_tint(thick * 0.4, thick), colours.piece_tint(thick * 0.3, thick)
    drift = {"color": colours.INK, "lw": 0.9, "ls": (0, (3, 2))}
    return [
        (True, Patch(fc=tint, ec=colours.BLUE, label="area to be cut, number of the cut")),
        (
            any(not cut.ledge.is_empty for cut in data.cuts),
            Patch(fc=tint, ec=colours.BLUE, hatch="\\\\\\\\", label="ledge for a plate"),
        ),
        (bool(data.pieces), Patch(fc=near, ec=colours.INK, label=_pieces_label(data))),
        (
            any(piece.may_cut for piece in data.pieces),
            Patch(fc=near, ec=colours.INK, hatch="...", ls=":", label="piece that may be cut"),
        ),
        (bool(data.pieces), _line("where it may lie, drift added", **drift)),
        (
            bool(data.clamps),
            Patch(fc=colours.PALE, ec=colours.GREY, hatch="////", label="clamp, height above face"),
        ),
    ]


def _ways(data: PlanData) -> list[tuple[bool, Artist]]:
    """Moves and where they go down."""
    rapid = {"color": colours.RAPID, "lw": 1.0, "ls": (0, (5, 3))}
    moved = bool(np.nansum(np.abs(np.diff(data.rapids, axis=0))) > 0.0)
    return [
        (len(data.feeds) > 0, _line("cutting move", color=colours.FEED, lw=0.9)),
        (moved, _line("rapid, at clear height", **rapid)),
        (len(data.entries) > 0, _line("cutter goes down into material", **_RING)),
    ]


def _marks(data: PlanData) -> list[tuple[bool, Artist]]:
    """Tabs, pins, the nearest and the refused places."""
    cross = {"ls": "none", "marker": "x", "ms": 8, "mew": 2.4, "color": colours.VERMILION}
    diamond = {"ls": "none", "marker": "D", "ms": 5, "mec": colours.INK}
    odd = {**_RING, "marker": "^", "mfc": colours.BLACK}
    other = len(data.closest) > 1
    return [
        (
            any(cut.tabs for cut in data.cuts),
            _line("tab left standing", **{**_RING, "marker": "s", "mfc": colours.WHITE}),
        ),
        (bool(data.pins), _line("register pin", **{**_RING, "mfc": colours.BLACK})),
        (bool(data.pins), _line("odd mark: must match", **odd)),
        (bool(data.closest), _line("closest approach", color=colours.INK, **diamond)),
        (other, _line("closest approach of another cut", color=colours.WHITE, **diamond)),
        (bool(data.refused), _line("REFUSED here", **cross)),
    ]


def _line(label: str, **look: Any) -> Artist:
    from matplotlib.lines import Line2D

    return Line2D([], [], label=label, **look)

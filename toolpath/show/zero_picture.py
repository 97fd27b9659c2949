"""The zero picture: the blank as it lies on the machine, its zero and which way is X and Y."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import shapely

from toolpath.job.model import Job, Side, TurnOver
from toolpath.show import colours
from toolpath.show.areas import blank_area, clamp_area
from toolpath.show.draw import (
    add_area,
    add_arrow,
    add_axes,
    add_text,
    house_style,
    new_figure,
    png_bytes,
)
from toolpath.show.hold_down import Touch, no_go, touch_off
from toolpath.show.plan_data import pin_marks
from toolpath.show.scene import Scene
from toolpath.show.seen import Seen, seen_from
from toolpath.show.words import SIDE_WORDS, TURN_WORDS, Lengths

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_WIDTH, _HEIGHT = 4.6, 3.5
"""Size of the picture in inches."""
_FAR_SIDE = -0.75
"""Share of the blank to the left of the zero, or below it, that says it lies at the far side."""


def draw_zero(scene: Scene, side: Side) -> bytes:
    """A small picture, as PNG, of the blank with `side` up: zero, X+ and Y+, size, clamps; for
    the back an arrow that shows how it was turned over."""
    with house_style():
        return png_bytes(zero_figure(scene, side))


def zero_figure(scene: Scene, side: Side) -> Figure:
    """The same picture, drawn; to be called under `house_style`."""
    job = scene.job_of(side)
    seen = seen_from(job, side)
    figure = new_figure(_HEIGHT, _WIDTH)
    axes = add_axes(figure, (0.05, 0.05, _WIDTH - 0.1, _HEIGHT - 0.1))
    axes.set_axis_off()
    unit = max(seen.size[0] / 46.0, seen.size[1] / 30.0)
    _frame(axes, seen, unit)
    _draw_blank(axes, job, seen, unit, touch_off(scene, side))
    _draw_size(axes, seen, Lengths(unit=job.unit), unit)
    _draw_zero_mark(axes, seen, unit)
    if side is Side.BACK:
        _draw_turn(axes, job.blank.turn_over, seen, unit)
    return figure


def _frame(axes: Axes, seen: Seen, unit: float) -> None:
    """Show the blank in the middle with room for what is written round it."""
    x, y = middle(seen)
    half_x, half_y = 37.0 * unit, 37.0 * unit * (_HEIGHT - 0.1) / (_WIDTH - 0.1)
    axes.set(xlim=(x - half_x, x + half_x), ylim=(y - half_y, y + half_y))


def middle(seen: Seen) -> tuple[float, float]:
    """The middle of the blank's bounding box, as seen."""
    return seen.low[0] + seen.size[0] / 2, seen.low[1] + seen.size[1] / 2


def _draw_blank(axes: Axes, job: Job, seen: Seen, unit: float, touch: Touch | None) -> None:
    """The blank, where nothing may stand, clamps, pins and the place to touch off on."""
    area = seen.geometry(blank_area(job.blank))
    add_area(axes, area, fc=colours.RESIN, ec=colours.INK, lw=1.6)
    look: dict[str, Any] = {"fc": "#FBE3D2", "ec": colours.VERMILION, "ls": (0, (4, 2))}
    add_area(axes, seen.geometry(no_go(job, seen.side)), lw=1.0, alpha=0.75, **look)
    low, size = seen.low, seen.size
    box = shapely.box(*low, low[0] + size[0], low[1] + size[1])
    add_area(axes, box, fc="none", ec=colours.GREY, lw=0.7, ls=(0, (4, 3)))
    for clamp in job.clamps:
        if clamp.face is seen.side:
            stand = seen.geometry(clamp_area(clamp))
            add_area(axes, stand, fc=colours.PALE, ec=colours.GREY, hatch="////")
    for pin in pin_marks(job, seen):
        mark: dict[str, Any] = {"marker": "^" if pin.odd else "o", "ms": 6, "mfc": colours.BLACK}
        axes.plot([pin.at[0]], [pin.at[1]], mec=colours.INK, mew=1.4, zorder=12, **mark)
    if touch is not None:
        axes.plot([touch.x], [touch.y], "*", ms=11, color=colours.INK, zorder=19)
        add_text(axes, (touch.x, touch.y + 2.4 * unit), _touch_words(job, touch), 7.5)
    x, y = middle(seen)
    words = f"{SIDE_WORDS[seen.side]}\nface up"
    place = (x, y + 3.5 * unit) if _on_corner(seen) else (x + 0.28 * size[0], y + 0.28 * size[1])
    add_text(axes, place, words, 12, weight="bold")


def _touch_words(job: Job, touch: Touch) -> str:
    """With the Z to set where that is not 0."""
    height = Lengths(unit=job.unit).bare(touch.z)
    return "touch off" if height == "0" else f"touch off: Z {height}"


def _draw_size(axes: Axes, seen: Seen, lengths: Lengths, unit: float) -> None:
    """Width over the blank and height to its right, or on the other side if the zero is there."""
    (left, bottom), (width, height) = seen.low, seen.size
    up, right = (-1.0 if share < _FAR_SIDE else 1.0 for share in (bottom / height, left / width))
    over = bottom + height + 2.0 * unit if up > 0 else bottom - 2.0 * unit
    beside = left + width + 2.0 * unit if right > 0 else left - 2.0 * unit
    look: dict[str, Any] = {"arrowstyle": "<|-|>", "lw": 0.9, "mutation_scale": 8}
    add_arrow(axes, (left, over), (left + width, over), **look)
    add_arrow(axes, (beside, bottom), (beside, bottom + height), **look)
    add_text(axes, (left + width / 2, over + 1.8 * up * unit), lengths.show(width), 8.5)
    side = (beside + 1.8 * right * unit, bottom + height / 2)
    add_text(axes, side, lengths.show(height), 8.5, rotation=90)


def _draw_zero_mark(axes: Axes, seen: Seen, unit: float) -> None:
    """Zero, X+ and Y+; the words go to the side on which there is no blank."""
    reach = min(9.0 * unit, 0.45 * min(seen.size))
    for head in ((reach, 0.0), (0.0, reach)):
        add_arrow(axes, (0, 0), head, lw=2.6, mutation_scale=17, color=colours.VERMILION)
    add_text(axes, (reach + 2.6 * unit, 0.0), "X+", 11, weight="bold")
    add_text(axes, (0.0, reach + 2.2 * unit), "Y+", 11, weight="bold")
    axes.plot([0], [0], "o", ms=10, mfc=colours.WHITE, mec=colours.INK, mew=2.0, zorder=19)
    axes.plot([0], [0], "+", ms=16, color=colours.INK, mew=1.4, zorder=19)
    up = 2.6 if seen.low[1] < _FAR_SIDE * seen.size[1] else -2.6
    right = 4.6 if seen.low[0] < _FAR_SIDE * seen.size[0] else -4.6
    add_text(axes, (right * unit, up * unit), "X0 Y0", 9, weight="bold")


def _on_corner(seen: Seen) -> bool:
    """Whether the zero lies on a corner, not in the middle."""
    return not math.isclose(seen.low[1], -seen.size[1] / 2)


def _draw_turn(axes: Axes, over: TurnOver, seen: Seen, unit: float) -> None:
    """A bent arrow across the line about which the blank was turned, under or beside the words."""
    x, y = middle(seen)
    line: dict[str, Any] = {"color": colours.BLUE, "lw": 1.0, "ls": (0, (8, 3, 2, 3))}
    low, (width, height) = seen.low, seen.size
    if over is TurnOver.LEFT_RIGHT:
        axes.plot((x, x), (low[1], low[1] + height), **line)
        tail, head = (x - 9 * unit, y - 5.5 * unit), (x + 9 * unit, y - 5.5 * unit)
    else:
        axes.plot((low[0], low[0] + width), (y, y), **line)
        tail, head = (x + 11 * unit, y + 5.5 * unit), (x + 11 * unit, y - 5.5 * unit)
    bent = {"connectionstyle": "arc3,rad=-0.45", "lw": 2.2, "mutation_scale": 16}
    add_arrow(axes, tail, head, color=colours.BLUE, **bent)
    words = f"turned over {TURN_WORDS[over]}"
    add_text(axes, (x, low[1] + 0.14 * height), words, 8.5, color=colours.BLUE)

"""The picture of a relief: what the emitted moves leave of it, in light and shade, how far that
stands from its map, and the ridges between the passes. As seen on the machine.

Blue stands above the map, vermilion below it, and what lies deeper than the paths' tolerance is
outlined besides; ridges go from dark to light.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from toolpath.job.cusps import level_step
from toolpath.job.model import Relief
from toolpath.plan.relief_left import Left
from toolpath.plan.target import relief_area
from toolpath.show import colours
from toolpath.show.draw import WIDTH, add_axes, house_style, new_figure, png_bytes, ruler
from toolpath.show.plan_data import title
from toolpath.show.scene import CutView, Scene
from toolpath.show.seen import Seen, seen_from
from toolpath.show.words import Lengths, shorten

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]

MOST = 0.2
"""Deviations from the map in mm from which on the colour stays the same."""
GOUGE = 0.01
"""What lies deeper than this under the map, mm, is outlined."""
_BESIDE, _UNDER, _OVER, _GAP = 0.5, 1.05, 0.75, 0.55
"""Inches left of the first panel, under and over the panels, and between them."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReliefData:
    """What the picture shows, at nodes (rows, columns) as they lie in the blank frame; NaN
    outside the relief. Millimetres.

    `left` is the height that the moves leave, `over` how far it stands over the map, `ridge` how
    far over the lowest place within a step of the passes.
    """

    cut: Relief
    number: int
    seen: Seen
    box: tuple[float, float, float, float]
    left: FloatArray = field(repr=False)
    over: FloatArray = field(repr=False)
    ridge: FloatArray = field(repr=False)


def relief_views(scene: Scene) -> dict[str, tuple[CutView, ...]]:
    """The parts of each relief that has moves, by the name of its cut."""
    found: dict[str, tuple[CutView, ...]] = {}
    for program in scene.programs:
        for view in program.cuts:
            if isinstance(view.planned.cut, Relief) and len(view.moves):
                name = view.planned.cut.name
                found[name] = (*found.get(name, ()), view)
    return found


def relief_data(scene: Scene, views: tuple[CutView, ...]) -> ReliefData:
    """The relief of some views, which are all parts of one cut, from the moves read back."""
    from scipy import ndimage

    cut = views[0].planned.cut
    assert isinstance(cut, Relief)
    left = Left.before(cut, relief_area(cut))
    for view in views:
        left.after(view.moves.take(view.moves.known), view.planned.cutter)
    inside = left.inside.reshape(left.nodes.z.shape)
    over = np.where(inside, left.over, np.nan)
    step = level_step(cut.finishers[-1], cut.cusp) / left.nodes.step
    lowest = ndimage.minimum_filter(left.over, size=int(np.ceil(step)) | 1, mode="nearest")
    rows, columns = left.nodes.z.shape
    x0, y0, half = left.nodes.x0, left.nodes.y0, left.nodes.step / 2.0
    return ReliefData(
        cut=cut,
        number=views[0].number,
        seen=seen_from(scene.job_of(cut.face), cut.face),
        box=(
            x0 - half,
            y0 - half,
            x0 + (columns - 0.5) * left.nodes.step,
            y0 + (rows - 0.5) * left.nodes.step,
        ),
        left=np.where(inside, left.nodes.z, np.nan),
        over=over,
        ridge=np.where(inside, left.over - lowest, np.nan),
    )


def draw_relief(scene: Scene, views: tuple[CutView, ...], path: Path) -> None:
    """Write the picture of a relief as PNG."""
    with house_style():
        path.write_bytes(png_bytes(relief_figure(scene, relief_data(scene, views))))


def relief_figure(scene: Scene, data: ReliefData) -> Figure:
    """The three panels; to be called under `house_style`."""
    lengths = Lengths(unit=scene.job.unit)
    x0, y0, x1, y1 = data.box
    wide = (WIDTH - _BESIDE - 2 * _GAP - 0.25) / 3.0
    high = min(max(wide * (y1 - y0) / (x1 - x0), 1.5), 6.0)
    figure = new_figure(high + _UNDER + _OVER)
    name = f"Relief {data.number} {shorten(data.cut.name, 40)}, {title(scene.job, data.cut.face)}"
    figure.text(
        _BESIDE / WIDTH,
        1.0 - 0.2 / (high + _UNDER + _OVER),
        name,
        fontsize=11,
        weight="bold",
        va="center",
        parse_math=False,
    )
    cusp = data.cut.cusp
    panels = (
        ("What the programs leave", _shaded(data), None),
        ("Above (blue) and below its map", *_deviation(data)),
        ("Ridges between the passes", *_ridges(data)),
    )
    for place, (words, image, scale) in enumerate(panels):
        box = (_BESIDE + place * (wide + _GAP), _UNDER, wide, high)
        axes = add_axes(figure, box)
        _show(axes, data, image)
        axes.set_title(words, fontsize=8)
        ruler(axes, scene.job.unit, span=max(x1 - x0, y1 - y0))
        if scale is not None:
            _scale(figure, box, scale, lengths)
    deep = np.nan_to_num(data.over, nan=0.0) < -GOUGE
    if deep.any():
        _outline(figure.axes[1], data, deep)
    figure.text(
        _BESIDE / WIDTH,
        0.22 / (high + _UNDER + _OVER),
        _words(data, lengths, cusp),
        fontsize=7.5,
        va="center",
        parse_math=False,
    )
    return figure


def _words(data: ReliefData, lengths: Lengths, cusp: float) -> str:
    inner = data.over[np.isfinite(data.over)]
    near = float((inner <= cusp * 1.5 + GOUGE).mean()) if inner.size else 0.0
    deepest = float(inner.min()) if inner.size else 0.0
    below = "nothing below it" if deepest >= -GOUGE else f"down to {lengths.short(-deepest)} below"
    return (
        f"{near:.1%} of it within {lengths.short(cusp * 1.5 + GOUGE)} above the map, {below}; "
        f"ridges of {lengths.short(cusp)} asked for. X right, Y up, as seen on the machine."
    )


def _shaded(data: ReliefData) -> NDArray[np.float64]:
    """Light from the upper left, as seen."""
    from matplotlib.colors import LightSource

    flip = data.seen.mirror
    z = np.where(np.isfinite(data.left), data.left, 0.0)[:: int(flip[1]), :: int(flip[0])]
    step = (data.box[2] - data.box[0]) / data.left.shape[1]
    light = LightSource(azdeg=315, altdeg=40)
    shade = light.hillshade(z[::-1], vert_exag=1.0, dx=step, dy=step)[::-1]
    image = np.repeat((0.25 + 0.7 * shade)[..., None], 4, axis=2)
    image[..., 3] = np.isfinite(data.left)[:: int(flip[1]), :: int(flip[0])]
    return np.asarray(image, dtype=np.float64)


def _deviation(data: ReliefData) -> tuple[NDArray[np.float64], Any]:
    from matplotlib.colors import LinearSegmentedColormap, Normalize

    ramp = LinearSegmentedColormap.from_list(
        "deviation",
        [
            (0.45, 0.08, 0.02),
            (0.90, 0.42, 0.12),
            (0.97, 0.97, 0.97),
            (0.45, 0.70, 0.90),
            (0.03, 0.27, 0.55),
        ],
    )
    norm = Normalize(-MOST, MOST)
    return _image(data, data.over, ramp, norm), (ramp, norm)


def _ridges(data: ReliefData) -> tuple[NDArray[np.float64], Any]:
    from matplotlib import colormaps
    from matplotlib.colors import Normalize

    norm = Normalize(0.0, 2.0 * data.cut.cusp)
    return _image(data, data.ridge, colormaps["cividis"], norm), (colormaps["cividis"], norm)


def _image(data: ReliefData, values: FloatArray, ramp: Any, norm: Any) -> NDArray[np.float64]:
    image = np.array(ramp(np.clip(norm(np.nan_to_num(values)), 0.0, 1.0)))
    image[..., 3] = np.isfinite(values)
    flip = data.seen.mirror
    return np.asarray(image[:: int(flip[1]), :: int(flip[0])], dtype=np.float64)


def _extent(data: ReliefData) -> tuple[float, float, float, float]:
    """Left, right, bottom, top as seen."""
    ends = data.seen.xy(np.array(data.box).reshape(2, 2))
    (x0, y0), (x1, y1) = ends.min(axis=0).tolist(), ends.max(axis=0).tolist()
    return x0, x1, y0, y1


def _show(axes: Axes, data: ReliefData, image: NDArray[np.float64]) -> None:
    extent = _extent(data)
    axes.imshow(image, extent=extent, origin="lower", interpolation="none", aspect="equal")
    axes.set(xlim=extent[:2], ylim=extent[2:])


def _outline(axes: Axes, data: ReliefData, which: NDArray[np.bool_]) -> None:
    flip = data.seen.mirror
    marks = which[:: int(flip[1]), :: int(flip[0])].astype(np.float64)
    axes.contour(
        marks,
        levels=[0.5],
        colors=colours.INK,
        linewidths=0.8,
        extent=_extent(data),
        origin="lower",
    )


def _scale(
    figure: Figure, box: tuple[float, float, float, float], scale: Any, lengths: Lengths
) -> None:
    """A strip of colours under a panel, with its ends in words."""
    from matplotlib.cm import ScalarMappable

    ramp, norm = scale
    left, _, wide, _ = box
    strip = add_axes(figure, (left + 0.1 * wide, 0.55, 0.8 * wide, 0.1))
    bar = figure.colorbar(ScalarMappable(norm=norm, cmap=ramp), cax=strip, orientation="horizontal")
    ticks = [norm.vmin, (norm.vmin + norm.vmax) / 2.0, norm.vmax]
    bar.set_ticks(ticks, labels=[lengths.short(t) if t else "0" for t in ticks], fontsize=6.5)

"""Drawing helpers over matplotlib: figures of exact scale, areas with holes, text with a halo.

matplotlib is imported inside the functions and only its Agg canvas is used, so nothing here needs
a display or keeps state between pictures.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.show import colours
from toolpath.show.words import plain
from toolpath.units import Unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Outline
    from matplotlib.text import Annotation, Text

FloatArray = NDArray[np.float64]

_PACKING = 3
"""How tightly pictures are packed, of 9: less than the library would, in half the time, for a tenth
more bytes."""
DPI = 160
WIDTH = 10.0
"""Width of a picture in inches: 1600 pixels."""


@contextmanager
def house_style() -> Iterator[None]:
    """The library's own defaults, whatever the maker's settings are; silent about letters that
    the typeface lacks (they are drawn as boxes)."""
    import matplotlib

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with matplotlib.rc_context():
            settings: Any = matplotlib.rcParams
            dict.update(settings, _house_settings())  # each was looked through once before
            yield


@lru_cache(maxsize=1)
def _house_settings() -> dict[str, Any]:
    """All settings of the library as the house has them."""
    import matplotlib

    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        settings: Any = matplotlib.rcParams
        settings["backend"] = "agg"  # else the library looks for a screen
        settings["text.parse_math"] = False
        settings["font.family"] = ["DejaVu Sans"]
        settings["hatch.linewidth"] = 0.6
        settings["path.simplify_threshold"] = 0.2
        settings["text.hinting"] = "none"  # letters at this size need none, and cost less
        settings["axes.titley"] = 1.0  # at the edge: nothing is measured for a title
        return dict(settings)


def new_figure(height: float, width: float = WIDTH) -> Figure:
    """An empty white figure with an Agg canvas; sizes in inches."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), dpi=DPI, facecolor=colours.WHITE)
    FigureCanvasAgg(figure)
    return figure


def add_axes(figure: Figure, box: tuple[float, float, float, float]) -> Axes:
    """Axes at (left, bottom, width, height) inches."""
    width, height = figure.get_size_inches()
    left, bottom, wide, high = box
    return figure.add_axes((left / width, bottom / height, wide / width, high / height))


def png_bytes(figure: Figure) -> bytes:
    """The figure as PNG, the same bytes for the same drawing; nothing shines through it."""
    from PIL import Image

    figure.canvas.draw()
    seen = np.asarray(figure.canvas.buffer_rgba())  # type: ignore[attr-defined]
    buffer = io.BytesIO()
    image = Image.fromarray(seen).convert("RGB")
    image.save(buffer, format="png", dpi=(DPI, DPI), compress_level=_PACKING)
    return buffer.getvalue()


def text_size(
    figure: Figure, text: str, points: float, *, bold: bool = False
) -> tuple[float, float]:
    """Width and height of a text in points; lines are split at newlines."""
    from matplotlib.font_manager import FontProperties

    font = FontProperties(family=["DejaVu Sans"], size=points, weight="bold" if bold else "normal")
    lines = text.split("\n")
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    widest = max(renderer.get_text_width_height_descent(line, font, False)[0] for line in lines)
    return widest * 72.0 / figure.dpi, 1.22 * points * len(lines)


def outline_of(area: BaseGeometry) -> Outline:
    """One path of all polygons of an area: shells one way round, holes the other."""
    from matplotlib.path import Path as Outline

    parts = [g for g in shapely.get_parts(area) if isinstance(g, shapely.Polygon)]
    rings = [ring for part in parts for ring in shapely.get_rings(shapely.orient_polygons(part))]
    corners = [shapely.get_coordinates(ring) for ring in rings if len(ring.coords) > 2]
    if not corners:
        return Outline(np.empty((0, 2)))
    codes = [np.full(len(c), Outline.LINETO, dtype=Outline.code_type) for c in corners]
    for code in codes:
        code[0], code[-1] = Outline.MOVETO, Outline.CLOSEPOLY
    return Outline(np.concatenate(corners), np.concatenate(codes))


def add_area(axes: Axes, area: BaseGeometry, **look: Any) -> PathPatch:
    """Draw an area; `look` goes to the patch. The limits of the axes are not touched."""
    from matplotlib.patches import PathPatch

    patch = PathPatch(outline_of(area), **look)
    axes.add_artist(patch)  # add_patch measures each for limits, which are set by hand
    return patch


def halo(width: float = 2.2, colour: str = colours.WHITE) -> list[Any]:
    """A border round letters that keeps them apart from what lies under them."""
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=width, foreground=colour)]


def add_text(axes: Axes, at: tuple[float, float], text: str, size: float, **look: Any) -> Text:
    """Text with a halo, middle at `at` unless `look` says otherwise. Never read as mathematics."""
    settings: dict[str, Any] = {
        "ha": "center",
        "va": "center",
        "color": colours.INK,
        "path_effects": halo(),
        "parse_math": False,
        "zorder": 20,
    }
    return axes.text(*at, _lines(text), fontsize=size, **{**settings, **look})


def add_arrow(
    axes: Axes, tail: tuple[float, float], head: tuple[float, float], **look: Any
) -> Annotation:
    """An arrow from tail to head in data coordinates; `look` goes to the arrow."""
    settings = {"arrowstyle": "-|>", "color": colours.INK, "lw": 1.2, "shrinkA": 0, "shrinkB": 0}
    return axes.annotate("", xy=head, xytext=tail, arrowprops={**settings, **look}, zorder=18)


def _lines(text: str) -> str:
    """Text made plain, its line breaks kept."""
    return "\n".join(plain(line) for line in text.split("\n"))


def ruler(axes: Axes, unit: Unit, *, span: float) -> None:
    """Ticks on both axes in the unit of the job; data are in mm."""
    from matplotlib.ticker import FuncFormatter, MultipleLocator

    steps = (1, 2, 5, 10, 20, 25, 50, 100, 200) if unit is Unit.MM else (0.1, 0.25, 0.5, 1, 2, 5)
    step = next((s * unit.mm for s in steps if span / (s * unit.mm) <= 12), steps[-1] * unit.mm)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(MultipleLocator(step))
        axis.set_major_formatter(FuncFormatter(lambda mm, _: f"{round(mm / unit.mm, 4):g}"))
    axes.tick_params(labelsize=7, colors=colours.GREY, length=2.5, width=0.6)
    for spine in axes.spines.values():
        spine.set_edgecolor(colours.PALE)


def scale_bar(axes: Axes, left: float, bottom: float, length: float, unit: Unit) -> None:
    """A bar of that many millimetres, half black, with its length written over it."""
    from matplotlib.patches import Rectangle

    high = length * 0.025
    for start, face in ((0.0, colours.INK), (length / 2, colours.WHITE)):
        axes.add_patch(
            Rectangle(
                (left + start, bottom), length / 2, high, fc=face, ec=colours.INK, lw=0.8, zorder=15
            )
        )
    inch = "" if unit is Unit.MM else f" ({length / unit.mm:.2f} in)"
    add_text(axes, (left + length / 2, bottom + high * 1.6), f"{length:g} mm{inch}", 7, va="bottom")

"""Lengths, view boxes and transforms of an SVG drawing as maps of its plane.

Maps are (3, 3) arrays for column vectors. User units are CSS pixels, 96 to the inch, x right and
y down; `page_map` brings those of a page to millimetres, y up.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import numpy as np

from toolpath.drawing.outline import FloatArray
from toolpath.drawing.svg_pen import Point, read_numbers
from toolpath.errors import DrawingError

if TYPE_CHECKING:
    from fontTools.misc.transform import Transform

PIXEL = 25.4 / 96.0
"""Millimetres in a CSS pixel (CSS Values and Units, 6.2: 96 pixels are one inch)."""

_PIXELS = {
    "": 1.0,
    "px": 1.0,
    "in": 96.0,
    "cm": 96.0 / 2.54,
    "mm": 96.0 / 25.4,
    "q": 96.0 / 101.6,
    "pt": 96.0 / 72.0,
    "pc": 16.0,
}
_LENGTH = re.compile(
    r"\s*([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:e[-+]?[0-9]+)?)\s*(%|[a-z]*)\s*", re.I
)
_CALL = re.compile(r"[\s,]*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)[\s,]*")
_COUNTS = {
    "matrix": (6,),
    "translate": (1, 2),
    "scale": (1, 2),
    "rotate": (1, 3),
    "skewX": (1,),
    "skewY": (1,),
}
_LONGEST = 10_000
_PLACED = re.compile(r"\s*x(Min|Mid|Max)Y(Min|Mid|Max)(?:\s+(meet|slice))?\s*")
_SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


def read_length(text: str, whole: float | None = None) -> float:
    """A length in user units; percentages are of `whole`.

    Raises
    ------
    DrawingError
        A unit that depends on a font or is unknown, or a percentage of nothing known.
    """
    found = _LENGTH.fullmatch(text[:100])
    if found is None:
        raise DrawingError(f'"{text[:40]}" is not a length')
    amount, unit = float(found[1]), found[2].lower()
    if not math.isfinite(amount):
        raise DrawingError(f'"{text[:40]}" is not a finite length')
    if unit == "%" and whole is not None:
        return amount / 100.0 * whole
    if unit not in _PIXELS:
        raise DrawingError(
            f'"{text[:40]}" has a unit that says no length here: use mm, cm, in, pt or px'
        )
    return amount * _PIXELS[unit]


def page_map(
    width: str | None, height: str | None, view: str | None, fit: str | None
) -> FloatArray:
    """From the user units of a page to millimetres, its lower left corner at 0, 0.

    A size that is absent, "auto" or a percentage follows from the view box, whose units are then
    pixels; a single one keeps the view box's proportion.

    Raises
    ------
    DrawingError
        Lengths that cannot be read, a page without a size, or a view box without an area.
    """
    box = None if view is None else _view(view)
    wide, high = _page_length(width), _page_length(height)
    if box is not None:
        _, _, across, up = box
        if wide is None:
            wide = across if high is None else high * across / up
        if high is None:
            high = wide * up / across
    if wide is None or high is None or not (wide > 0.0 and high > 0.0):
        raise DrawingError(
            "its page has no size: give the svg element a width and height, in mm, or a viewBox"
        )
    flip = np.array([[PIXEL, 0.0, 0.0], [0.0, -PIXEL, PIXEL * high], [0.0, 0.0, 1.0]])
    return flip if view is None else flip @ view_map((wide, high), view, fit)


def _page_length(text: str | None) -> float | None:
    if text is None or text.strip() in ("", "auto") or text.strip().endswith("%"):
        return None
    return read_length(text)


def _view(text: str) -> tuple[float, float, float, float]:
    numbers = read_numbers(text)
    if len(numbers) != 4 or not (numbers[2] > 0.0 and numbers[3] > 0.0):
        raise DrawingError(
            f'its viewBox "{text[:40]}" is not x, y, width and height with a size above 0'
        )
    x, y, width, height = numbers
    return x, y, width, height


def view_size(view: str) -> Point:
    """Width and height of a view box."""
    return _view(view)[2:]


def view_map(size: Point, view: str, fit: str | None) -> FloatArray:
    """From a view box to a viewport of that size at 0, 0 (SVG 1.1, 7.8)."""
    x, y, width, height = _view(view)
    across, up = size[0] / width, size[1] / height
    words = (fit or "xMidYMid").replace("defer", "").strip()
    left = top = 0.0
    if words.split()[:1] != ["none"]:
        found = _PLACED.fullmatch(words)
        if found is None:
            raise DrawingError(f'its preserveAspectRatio "{words[:40]}" is not understood')
        across = up = max(across, up) if found[3] == "slice" else min(across, up)
        left = _SHARE[found[1]] * (size[0] - across * width)
        top = _SHARE[found[2]] * (size[1] - up * height)
    shift = [left - across * x, top - up * y]
    return np.array([[across, 0.0, shift[0]], [0.0, up, shift[1]], [0.0, 0.0, 1.0]])


def read_transform(text: str) -> FloatArray:
    """The map of a list of transforms, the last of which acts first (SVG 1.1, 7.6).

    Raises
    ------
    DrawingError
        A word that is no transform, or a wrong count of numbers.
    """
    from fontTools.misc.transform import Transform

    if len(text) > _LONGEST:
        raise DrawingError(f"its transform has more than {_LONGEST} characters: apply it")
    total, place = Transform(), 0
    while place < len(text.rstrip()):
        found = _CALL.match(text, place)
        if found is None or found.end() == place:
            raise DrawingError(f'its transform "{text[place : place + 40]}" is not understood')
        numbers = read_numbers(found[2])
        if len(numbers) not in _COUNTS[found[1]]:
            raise DrawingError(f'its transform "{found[0][:40]}" has {len(numbers)} numbers')
        total = _joined(total, found[1], numbers)
        place = found.end()
    a, b, c, d, e, f = total
    return np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]], dtype=np.float64)


def _joined(total: Transform, word: str, numbers: list[float]) -> Transform:
    if word == "matrix":
        return total.transform(tuple(numbers))
    if word == "translate":
        return total.translate(*numbers)
    if word == "scale":
        return total.scale(*(numbers * 2)[:2])
    if word == "rotate":
        x, y = numbers[1:] or (0.0, 0.0)
        return total.translate(x, y).rotate(math.radians(numbers[0])).translate(-x, -y)
    turned = math.tan(math.radians(numbers[0]))
    return total.transform((1, 0, turned, 1, 0, 0) if word == "skewX" else (1, turned, 0, 1, 0, 0))


def translation(x: float, y: float) -> FloatArray:
    """The map that moves everything by x, y."""
    return np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])

"""Lengths as people write them, turned into millimetres, and back."""

from __future__ import annotations

import math
import re
from enum import Enum
from fractions import Fraction


class Unit(Enum):
    """A unit of length of a job, a drawing or a program."""

    MM = "mm"
    INCH = "in"

    @property
    def mm(self) -> float:
        """Millimetres in one of this unit (1 in = 25.4 mm exactly, 1959 agreement)."""
        return 1.0 if self is Unit.MM else 25.4

    @property
    def decimals(self) -> int:
        """Decimals of a program in this unit that keep arcs within the standard's tolerance."""
        return 4 if self is Unit.MM else 5


UNIT_NAMES: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": 25.4,
    "inch": 25.4,
    '"': 25.4,
}

_LENGTH = re.compile(
    r"""\s*(?P<sign>[-+]?)\s*
    (?:(?P<whole>\d+)[\s-]+(?=\d+/))?
    (?:(?P<num>\d+)/(?P<den>\d+)|(?P<decimal>\d+(?:\.\d*)?|\.\d+))
    \s*(?P<unit>mm|cm|m|inch|in|")\s*""",
    re.VERBOSE,
)


def parse_length(text: str) -> float:
    """Millimetres of a length with its unit: ``"6 mm"``, ``"1/4 in"``, ``"1 3/4 in"``.

    Raises ValueError, with the forms that are understood, for anything else.
    """
    match = _LENGTH.fullmatch(text)
    if match is None or (match["den"] is not None and int(match["den"]) == 0):
        raise ValueError(f'"{text}" is not a length: write it as "6 mm" or "1/4 in"')
    if match["decimal"] is not None:
        amount = float(match["decimal"])
    else:
        amount = float(int(match["whole"] or 0) + Fraction(int(match["num"]), int(match["den"])))
    value = math.copysign(amount * UNIT_NAMES[match["unit"]], -1.0 if match["sign"] == "-" else 1.0)
    if not math.isfinite(value):
        raise ValueError(f'"{text}" is not a finite length')
    return value


def show_left(gap: float, unit: Unit = Unit.MM) -> str:
    """A gap that is left, for a message: rounded down, so that it never looks larger."""
    return _with_inches(f"{math.floor(gap * 100.0 + 1e-6) / 100.0:.2f} mm", gap, unit)


def show_needed(gap: float, unit: Unit = Unit.MM) -> str:
    """A gap that is needed, for a message: rounded up, so that it never looks smaller."""
    return _with_inches(f"{math.ceil(gap * 100.0 - 1e-6) / 100.0:.2f} mm", gap, unit)


def show_mm(value: float, unit: Unit = Unit.MM) -> str:
    """A length (mm) for a message: up to three decimals, no trailing zeros; in an inch job in
    inches, with the millimetres in brackets."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return _with_inches(f"{'0' if text == '-0' else text} mm", value, unit)


def show_area(mm2: float, unit: Unit = Unit.MM) -> str:
    """An area (mm²) for a message, small ones to three decimals; in an inch job in square inches,
    with the square millimetres in brackets."""
    metric = f"{mm2:.{1 if mm2 >= 1.0 else 3}f} mm²"
    return metric if unit is Unit.MM else f"{mm2 / unit.mm**2:.4f} in² ({metric})"


def show_place(x: float, y: float, unit: Unit = Unit.MM) -> str:
    """A place of the blank (mm) for a message, in the job's unit."""
    decimals = 2 if unit is Unit.MM else 3
    return f"x {x / unit.mm:.{decimals}f} y {y / unit.mm:.{decimals}f}"


def _with_inches(metric: str, value: float, unit: Unit) -> str:
    if unit is Unit.MM:
        return metric
    return f"{value / Unit.INCH.mm + 0.0:.4f} in ({metric})"

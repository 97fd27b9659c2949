"""What is known of cutting each material: bands of chip, speed and depth, by the diameter.

The figures and their sources stand in `materials.toml` beside this file. They are starting points
for a hobby machine, never limits.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

DIAMETERS = (3.0, 6.0, 8.0)
"""Cutters that chips and turns are known for, mm."""

THICKEST = 12.7
"""Chips grow with the diameter up to here, mm, and turns fall (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The least and the most of a figure."""

    low: float
    high: float

    def at(self, share: float) -> float:
        """A value in it, 0 the least, 1 the most."""
        return self.low + (self.high - self.low) * share


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A row of the table. Chips mm a tooth and turns rev/min at `DIAMETERS`; `surface` m/min;
    `stepdown` and `stepover` over the diameter; `ramp` radians; `plunge` a share of the feed.
    `heat` says what too much of it does. `sources` by figure."""

    name: str
    words: tuple[str, ...]
    heat: str
    chips: tuple[Band, ...]
    turns: tuple[Band, ...]
    surface: Band
    stepdown: Band
    stepover: Band
    ramp: Band
    plunge: Band
    sources: Mapping[str, str]

    def chip(self, diameter: float) -> Band:
        """Chips for a cutter, mm a tooth: linear between the diameters of the table, in
        proportion to the diameter below them, and above them up to `THICKEST`."""
        return _by_diameter(self.chips, diameter, 1.0)

    def speed(self, diameter: float) -> Band:
        """Turns for a cutter, rev/min: linear between the diameters of the table, those of the
        thinnest below them, above them the thicker the slower."""
        return _by_diameter(self.turns, diameter, -1.0)


@cache
def materials() -> tuple[Material, ...]:
    """All rows of the table."""
    text = files("toolpath.job").joinpath("materials.toml").read_text(encoding="utf-8")
    return tuple(_row(row) for row in tomllib.loads(text)["material"])


def material_of(words: str) -> Material | None:
    """The row that a maker's words mean; None where they are not in the table."""
    wanted = _plain(words)
    for row in materials():
        if wanted in map(_plain, (row.name, *row.words)):
            return row
    return None


def _plain(words: str) -> str:
    return " ".join(words.casefold().replace("-", " ").replace(",", " ").split())


def _row(row: Mapping[str, Any]) -> Material:
    return Material(
        name=row["name"],
        words=tuple(row["words"]),
        heat=row["heat"],
        chips=tuple(_band(pair) for pair in row["chip"]),
        turns=tuple(_band(pair) for pair in row["turns"]),
        surface=_band(row["surface"]),
        stepdown=_band(row["stepdown"]),
        stepover=_band(row["stepover"]),
        ramp=_band([math.radians(angle) for angle in row["ramp"]]),
        plunge=_band(row["plunge"]),
        sources=row["sources"],
    )


def _band(pair: Sequence[float]) -> Band:
    low, high = pair
    return Band(low=float(low), high=float(high))


def _by_diameter(bands: Sequence[Band], diameter: float, power: float) -> Band:
    """Bands between the diameters, and beyond them by a power of the diameter (turns are not
    raised for thin cutters: few spindles go further)."""
    low, high = (
        float(np.interp(diameter, DIAMETERS, [getattr(band, end) for band in bands]))
        for end in ("low", "high")
    )
    beyond = max(1.0, min(diameter, THICKEST if power > 0.0 else diameter) / DIAMETERS[-1])
    under = min(1.0, diameter / DIAMETERS[0]) if power > 0.0 else 1.0
    scale = beyond**power * under
    return Band(low=low * scale, high=high * scale)

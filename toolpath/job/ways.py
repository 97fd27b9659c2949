"""The words for how a cut is made."""

from __future__ import annotations

from enum import Enum


class IfBlocked(Enum):
    """What a cut does where a kept piece is in its way."""

    STOP = "stop"
    RISE = "rise"
    PILLAR = "pillar"


class Order(Enum):
    """In which order the cuts of a face are made."""

    BEST = "best"
    AS_WRITTEN = "as written"


class Corners(Enum):
    """How the inside corners of a pocket come out."""

    ROUND = "round"
    OVER_CUT = "over-cut"


class SkimWay(Enum):
    """How a skim covers its face: strokes to and fro, or rings from the edge inward."""

    ZIGZAG = "zigzag"
    SPIRAL = "spiral"


class FinishBy(Enum):
    """The way of the finishing passes of a relief."""

    PARALLEL = "parallel"
    RINGS = "rings"
    CONTOURS = "contours"


class ProfileSide(Enum):
    """On which side of its outline a profile runs."""

    OUTER = "outer"
    INNER = "inner"
    CENTRE = "centre"

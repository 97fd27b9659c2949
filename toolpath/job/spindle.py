"""The nouns of what turns in the spindle: cutter, collet nut, dust shoe; mm and radians."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum


class Shape(Enum):
    """The form of a cutter's end."""

    FLAT = "flat"
    BALL = "ball"
    BULL = "bull"
    VEE = "vee"
    DRILL = "drill"
    ROUND_OVER = "round-over"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shoe:
    """A dust shoe that moves with the spindle: all within `diameter` about its axis counts, from
    its lower edge up. That hangs `drop` below the nut; negative: it stands above."""

    diameter: float
    drop: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Nut:
    """The collet nut above the cutter's reach, a cylinder, and the dust shoe round it, if any."""

    diameter: float = 22.0
    height: float = 18.0
    shoe: Shoe | None = None

    @property
    def widest(self) -> float:
        """The diameter of the nut or its shoe, whichever is wider."""
        return self.diameter if self.shoe is None else max(self.diameter, self.shoe.diameter)


@dataclass(frozen=True, slots=True, kw_only=True)
class Neck:
    """What is ground thin between flutes and shank; `length` from the tip to where the shank
    begins."""

    diameter: float
    length: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter:
    """A cutter as it sticks out of the nut. `reach` is the stick-out; `ramp` radians from the
    horizontal; `stepover` a fraction of the diameter; `angle` (included, radians) of a vee or
    drill; `corner_radius` of a bull; `tip_diameter` of a vee; `edge_radius` of the edge that a
    round-over leaves. `chip` (mm a tooth) is kept where it is given, and `feed` is then the feed at
    half the diameter or more; 0: none is given, and `feed` is never exceeded. `proposed` names
    the figures that the job leaves out.
    """

    name: str
    shape: Shape
    diameter: float
    flutes: int
    flute_length: float
    shank: float
    reach: float
    rpm: float
    feed: float
    plunge: float
    ramp: float
    stepdown: float
    stepover: float
    angle: float = 0.0
    corner_radius: float = 0.0
    tip_diameter: float = 0.0
    edge_radius: float = 0.0
    neck: Neck | None = None
    chip: float = 0.0
    proposed: frozenset[str] = frozenset()

    @property
    def shank_from(self) -> float:
        """Height above the tip at which the shank begins: above the neck, else the flutes."""
        return self.flute_length if self.neck is None else self.neck.length

    @property
    def radius(self) -> float:
        """Half the diameter."""
        return self.diameter / 2.0

    @property
    def point_length(self) -> float:
        """Height above the tip at which the full diameter is reached."""
        if self.shape is Shape.BALL:
            return self.radius
        if self.shape is Shape.BULL:
            return self.corner_radius
        if self.shape is Shape.ROUND_OVER:
            return self.edge_radius
        if self.shape in (Shape.VEE, Shape.DRILL):
            return (self.diameter - self.tip_diameter) / 2.0 / math.tan(self.angle / 2.0)
        return 0.0

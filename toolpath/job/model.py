"""The nouns of a job: frozen, in millimetres, radians, mm/min and rev/min.

Every position is in the blank frame: look at the front face, x right, y up, z = 0 on the front
face and negative into the blank, z = -thickness on the back face.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from toolpath.drawing.outline import Outline, Region
from toolpath.units import Unit


class Side(Enum):
    """A face of the blank."""

    FRONT = "front"
    BACK = "back"


class TurnOver(Enum):
    """How the blank is turned over to work on its back."""

    LEFT_RIGHT = "left-right"
    TOP_BOTTOM = "top-bottom"


class Zero(Enum):
    """Where X and Y are zero: a corner of the blank's bounding box as seen from that face."""

    LOWER_LEFT = "lower-left"
    LOWER_RIGHT = "lower-right"
    UPPER_LEFT = "upper-left"
    UPPER_RIGHT = "upper-right"
    CENTRE = "centre"


class Shape(Enum):
    """The form of a cutter's end."""

    FLAT = "flat"
    BALL = "ball"
    BULL = "bull"
    VEE = "vee"
    DRILL = "drill"


class Rule(Enum):
    """What a cut may do to a piece."""

    KEEP = "keep"


class Hardness(Enum):
    """What a piece is made of, as far as a cutter cares."""

    METAL = "metal"
    STONE = "stone"
    GLASS = "glass"
    WOOD = "wood"
    PLASTIC = "plastic"


class ProfileSide(Enum):
    """On which side of its outline a profile runs."""

    OUTER = "outer"
    INNER = "inner"
    CENTRE = "centre"


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """The cast blank. `outline` is one region without holes; `thickness_within` is how far
    the real thickness may differ, either way."""

    outline: Region
    thickness: float
    thickness_within: float = 0.0
    material: str = ""
    turn_over: TurnOver = TurnOver.LEFT_RIGHT


@dataclass(frozen=True, slots=True, kw_only=True)
class Nut:
    """The collet nut above the cutter's reach: a cylinder."""

    diameter: float = 22.0
    height: float = 18.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """The router. `travel` is the span of x, y and z; `acceleration` mm/s².

    `spindle_wait` is seconds; None means that the program stops (M0) instead of waiting.
    """

    travel: tuple[float, float, float]
    feed_max: float
    spindle: tuple[float, float]
    safe_height: float
    rapid: float = 5000.0
    acceleration: float = 500.0
    nut: Nut = field(default_factory=Nut)
    spoilboard: float = 0.5
    path_error: float = 0.02
    arcs: bool = True
    decimals: int = 4
    spindle_wait: float | None = 5.0
    wait_in_ms: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRules:
    """How the check looks: height-field cell and the least gap to a kept piece."""

    cell: float = 0.2
    clearance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter:
    """A cutter as it sticks out of the nut. `reach` is the stick-out; `ramp` radians from the
    horizontal; `stepover` a fraction of the diameter; `angle` (included, radians) of a vee or
    drill; `corner_radius` of a bull; `tip_diameter` of a vee.
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
        if self.shape in (Shape.VEE, Shape.DRILL):
            return float((self.diameter - self.tip_diameter) / 2.0 / np.tan(self.angle / 2.0))
        return 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A box with sides `size` along x, y (before turning) and z."""

    size: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """An upright cylinder."""

    diameter: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sphere:
    """A ball."""

    diameter: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """A triangle mesh as its file has it, scaled to mm: vertices (v, 3), triangles (t, 3).

    `tilt` is (about x, about y), radians, applied x first, then y, before the piece is turned.
    """

    file: Path
    vertices: NDArray[np.float64] = field(repr=False)
    triangles: NDArray[np.int64] = field(repr=False)
    watertight: bool = True
    tilt: tuple[float, float] = (0.0, 0.0)


Solid = Box | Cylinder | Sphere | Mesh


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """How far a piece may have moved while the resin set: `side` any way in the plane, `rise` up
    or down, `turn` (radians) either way about `Piece.at`."""

    side: float = 0.0
    rise: float = 0.0
    turn: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """An embedded object: its solid is tilted, turned (radians, counter-clockwise seen from the
    front), then moved so that the centre of its bounding box in plan lies at `at`.

    `depth` is from the face `measured_from` to the nearest point of the piece, nominal.
    """

    name: str
    solid: Solid
    at: tuple[float, float]
    measured_from: Side
    depth: float
    clearance: float
    turn: float = 0.0
    rule: Rule = Rule.KEEP
    drift: Drift = field(default_factory=Drift)
    hardness: Hardness = Hardness.STONE


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamp:
    """What else stands on the machine while `face` is up: drawn in the blank frame, up to
    `height` above that face and down to the bed. `name` is made from its place in the job."""

    name: str
    face: Side
    outline: Outline
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _CutBase:
    name: str
    face: Side
    cutter: Cutter
    depth: float
    """Depth below the face that the cut reaches: for a through cut thickness +
    thickness_within + spoilboard; for a drill the depth of the full diameter."""
    through: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Pocket(_CutBase):
    """Everything inside `outline` but the islands, cleared to the depth."""

    outline: Outline
    islands: Outline = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile(_CutBase):
    """A cut along an outline."""

    outline: Outline
    side: ProfileSide


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill(_CutBase):
    """Holes of the cutter's own diameter; `peck` is the depth of one bite."""

    at: tuple[tuple[float, float], ...]
    peck: float


Cut = Pocket | Profile | Drill


@dataclass(frozen=True, slots=True, kw_only=True)
class Warned:
    """Something a maker should know that stops nothing: `where` is a key path."""

    where: str
    message: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Job:
    """A whole job, valid as far as its words go."""

    file: Path
    name: str
    unit: Unit
    blank: Blank
    zero: dict[Side, Zero]
    machine: Machine
    check: CheckRules
    cutters: dict[str, Cutter]
    pieces: tuple[Piece, ...]
    clamps: tuple[Clamp, ...]
    cuts: tuple[Cut, ...]
    warnings: tuple[Warned, ...] = ()
    sources: tuple[Path, ...] = ()
    """Every file that the job was read from, itself first."""

    @property
    def needs(self) -> dict[str, float]:
        """The gap to keep to each piece, by its name."""
        return {piece.name: self.need(piece) for piece in self.pieces}

    def need(self, piece: Piece) -> float:
        """The gap that every move must keep to a piece: its clearance plus the path error."""
        return piece.clearance + self.machine.path_error

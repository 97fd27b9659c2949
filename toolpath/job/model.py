"""The nouns of a job: frozen, in millimetres, radians, mm/min and rev/min.

Every position is in the blank frame: look at the front face, x right, y up, z = 0 on the front
face and negative into the blank, z = -thickness on the back face.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path

from toolpath.drawing.ground import Ground
from toolpath.drawing.outline import Outline, Region
from toolpath.job.bodies import Box as Box
from toolpath.job.bodies import Cylinder as Cylinder
from toolpath.job.bodies import Heights as Heights
from toolpath.job.bodies import Mesh as Mesh
from toolpath.job.bodies import Prism as Prism
from toolpath.job.bodies import Solid as Solid
from toolpath.job.bodies import Sphere as Sphere
from toolpath.job.spindle import Cutter as Cutter
from toolpath.job.spindle import Neck as Neck
from toolpath.job.spindle import Nut as Nut
from toolpath.job.spindle import Shape as Shape
from toolpath.job.spindle import Shoe as Shoe
from toolpath.job.ways import Corners as Corners
from toolpath.job.ways import FinishBy as FinishBy
from toolpath.job.ways import IfBlocked as IfBlocked
from toolpath.job.ways import Order as Order
from toolpath.job.ways import ProfileSide as ProfileSide
from toolpath.job.ways import SkimWay as SkimWay
from toolpath.tolerances import TOLERANCES
from toolpath.units import Unit


class Side(Enum):
    """A face of the blank."""

    FRONT = "front"
    BACK = "back"

    @property
    def other(self) -> Side:
        """The face that lies on the board while this one is up."""
        return Side.BACK if self is Side.FRONT else Side.FRONT


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


class Rule(Enum):
    """What a cut may do to a piece."""

    KEEP = "keep"
    MAY_CUT = "may-cut"


class Hardness(Enum):
    """What a piece is made of, as far as a cutter cares."""

    METAL = "metal"
    STONE = "stone"
    GLASS = "glass"
    WOOD = "wood"
    PLASTIC = "plastic"


HARD = frozenset({Hardness.METAL, Hardness.STONE, Hardness.GLASS})
"""What no cutter goes into unless the cut says `through_hard`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """The cast blank. `outline` is one region without holes; `thickness_within` is how far
    the real thickness may differ, either way."""

    outline: Region
    thickness: float
    thickness_within: float = 0.0
    material: str = ""
    turn_over: TurnOver = TurnOver.LEFT_RIGHT

    @property
    def thinnest(self) -> float:
        """How thick it is at least, mm, before any cut."""
        return self.thickness - self.thickness_within


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """The blank as found before its second face is planned: `size` along x and y, and thickness.

    The corner (or middle) where the first face has its zero is where drawing and blank meet.
    """

    size: tuple[float, float]
    thickness: float


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
    dial: tuple[float, ...] = ()
    """Rev/min of the steps 1, 2, … of a router whose speed is set by hand; empty for none."""
    change: float = 120.0
    """Seconds that a change of cutter takes, with its touch-off; for the time only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRules:
    """How the check looks: height-field cell and the least gap to a kept piece; the least that
    must be left under and between cavities, 0 where nothing is asked."""

    cell: float = 0.2
    clearance: float
    least_floor: float = 0.0
    least_wall: float = 0.0


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
    """The first, and largest, of the cutters."""
    depth: float
    """Depth below the face that the cut reaches: for a through cut thickness +
    thickness_within + spoilboard; for a drill the depth of the full diameter."""
    through: bool = False
    smaller: tuple[Cutter, ...] = ()
    """Cutters that follow, largest first: each takes what those before could not reach."""
    below: float = 0.0
    """Depth at which this cut's material begins: what lies above was cut before."""
    through_hard: bool = False
    """Whether it may go into hard pieces that may be cut."""
    if_blocked: IfBlocked = IfBlocked.STOP
    clear_chips: float = 0.0
    """Seconds of cutting after which it stops, lifted, for chips to be cleared; 0: never."""

    @property
    def cutters(self) -> tuple[Cutter, ...]:
        """All its cutters, in the order in which they cut."""
        return (self.cutter, *self.smaller)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledge:
    """A shallower rim round a pocket, on which a plate rests: everything inside `outline`, which
    holds the pocket's, is cut to `depth` below the face."""

    outline: Outline
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tabs:
    """Bridges that hold a part: `width` along the outline at their top, `height` above the
    bottom of the blank (of the thinnest that it may be, once skimmed) or, in a cut that stays in
    it, above the floor of the cut."""

    count: int
    width: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pocket(_CutBase):
    """Everything inside `outline` but the islands, cleared to the depth."""

    outline: Outline
    islands: Outline = ()
    ledge: Ledge | None = None
    finish: float = 0.0
    """Left on the walls for one last pass, mm."""
    finish_floor: float = 0.0
    """Left on the floor for one last level, mm."""
    spring_passes: int = 0
    """How often the last pass along the walls is walked again."""
    corners: Corners = Corners.ROUND
    engage: float | None = None
    """The greatest engaged angle after the entry, radians; None: passes a stepover apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile(_CutBase):
    """A cut along an outline; `finish` is left on the wall for one last pass, which is walked
    again `spring_passes` times."""

    outline: Outline
    side: ProfileSide
    tabs: Tabs | None = None
    finish: float = 0.0
    spring_passes: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill(_CutBase):
    """Holes; `peck` is the depth of one bite. Wider than the cutter (`diameter`): bored by helix.

    `pins` marks the holes of register pins, whose depth goes further into the spoilboard than
    that of other through cuts.
    """

    at: tuple[tuple[float, float], ...]
    peck: float
    diameter: float
    pins: bool = False

    @property
    def bored(self) -> bool:
        """Whether the holes are wider than the cutter."""
        return self.diameter > self.cutter.diameter + TOLERANCES.equal


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plain(_CutBase):
    """A cut whose walls are walked once, its passes a stepover apart."""

    @property
    def spring_passes(self) -> int:
        """The last pass along walls is not walked again."""
        return 0

    @property
    def engage(self) -> float | None:
        """Passes lie a stepover apart."""
        return None

    @property
    def corners(self) -> Corners:
        """There are no inside corners to open."""
        return Corners.ROUND


@dataclass(frozen=True, slots=True, kw_only=True)
class Skim(_Plain):
    """The whole of a face brought down by `depth`, the cutter running out over its edge.

    `outline` is that of the blank. Where the job says a `thickness` instead of a depth, the depth
    is what leaves it of the blank as it is before, 0 where it does not.
    """

    outline: Outline
    way: SkimWay = SkimWay.ZIGZAG
    along: float = 0.0
    """Direction of the strokes of a zigzag, radians from x."""
    beyond: float = 1.0
    """How far the whole cutter runs out over the edge at the end of a stroke, mm."""
    thickness: float = 0.0
    least_cover: float = 0.0
    """The least that must stay above every kept piece, mm."""

    @property
    def finish(self) -> float:
        """Nothing is left on walls: there are none."""
        return 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief(_Plain):
    """A free-form floor: everything inside `outline` cut down to `ground`, nowhere deeper than
    `depth`. Roughed in levels, then finished by passes that leave ridges of `cusp` mm."""

    outline: Outline
    ground: Ground
    finish: float = 0.0
    """Left by the roughing for the finishing passes, mm, along the normal."""
    finish_by: FinishBy = FinishBy.PARALLEL
    angle: float = 0.0
    """Of parallel passes, radians counter-clockwise from +x."""
    cusp: float = 0.02

    @property
    def finishers(self) -> tuple[Cutter, ...]:
        """The cutters that finish: all, but flat ones that others follow, which only rough."""
        last = self.cutters[-1]
        rough = [c for c in self.cutters if c.shape is Shape.FLAT and last.shape is not Shape.FLAT]
        return tuple(cutter for cutter in self.cutters if cutter not in rough)


Cleared = Pocket | Skim | Relief
"""Cuts that clear an area, over or round what is in the way if they say so."""
Cut = Cleared | Profile | Drill


def skimmed_off(cuts: Iterable[Cut | None], side: Side) -> float:
    """How much all skims of a face together take off it, mm: the deepest counts."""
    return max([0.0, *(c.depth for c in cuts if isinstance(c, Skim) and c.face is side)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A face as it was measured: places (x, y) of the blank frame and how high the real face
    stands above its Z 0 in each, mm, at least three that do not lie in a line."""

    places: tuple[tuple[float, float], ...]
    heights: tuple[float, ...]

    @property
    def highest(self) -> float:
        """The highest place, or 0 where all lie below."""
        return max(0.0, *self.heights)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The sheet that a plate is cut from: `size` along x and y, measured thickness."""

    size: tuple[float, float]
    thickness: float
    material: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Screws:
    """What holds a plate on its ledge: `diameter` over the thread, and where the screws stand:
    at `at` (blank frame) if given, else `count` of them spread along the ledge.

    `edge` is the least distance of a screw's middle from the edge of the plate and from the
    cavity. The pilot holes are `depth` deep below the ledge, the holes of the plate are `slack`
    wider than the screw. `hole` None: the plate's own cutter bores them.
    """

    diameter: float
    pilot: Cutter
    depth: float
    edge: float
    slack: float
    count: int = 0
    at: tuple[tuple[float, float], ...] = ()
    hole: Cutter | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A plate for the ledge of a pocket: its outline is what the ledge's cutter leaves, moved in
    by `gap` on every side. Held by `tabs`, or by a `skin` left under it (mm) if there are none.
    """

    cut: Pocket
    gap: float
    cutter: Cutter
    sheet: Sheet
    tabs: Tabs | None = None
    skin: float = 0.0
    screws: Screws | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pins:
    """Register pins for turning over: two holes `at` on the turning line and an odd `mark` that
    shows a wrong turn; blank frame. They are drilled by the first face's programs, as cuts of the
    job named `PINS` and `MARK`."""

    diameter: float
    at: tuple[tuple[float, float], tuple[float, float]]
    mark: tuple[float, float]


PINS = "register pins"
MARK = "odd mark"


@dataclass(frozen=True, slots=True, kw_only=True)
class Warned:
    """Something a maker should know that stops nothing: `where` is a key path. `note`: nothing is
    wrong."""

    where: str
    message: str
    note: bool = False


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
    plates: tuple[Plate, ...] = ()
    pins: Pins | None = None
    measured: Measured | None = None
    order: Order = Order.BEST
    surfaces: Mapping[Side, Surface] = field(default_factory=dict)
    """Faces that were measured before they are skimmed."""
    warnings: tuple[Warned, ...] = ()
    sources: Mapping[Path, str] = field(default_factory=dict)
    """Every file that the job was read from, itself first, with the digest of its content."""

    def skimmed(self, side: Side) -> float:
        """How much all skims of a face together take off it, mm: the deepest counts."""
        return skimmed_off(self.cuts, side)

    @property
    def needs(self) -> dict[str, float]:
        """The gap to keep to each piece, by its name."""
        return {piece.name: self.need(piece) for piece in self.pieces}

    def need(self, piece: Piece) -> float:
        """The gap that every move must keep to a piece: its clearance plus the path error."""
        return piece.clearance + self.machine.path_error

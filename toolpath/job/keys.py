"""Every key that a job file may hold, table by table, and those that later versions bring.

`docs/job-file.md` describes each of them; a test compares the two.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Keys:
    """The keys of one table.

    `now` are read; `later` are answered "not yet" unless they hold the one value that changes
    nothing (None: no value is taken); `elsewhere` belong to a sister table and say which.
    """

    now: tuple[str, ...]
    later: Mapping[str, object] = field(default_factory=dict)
    elsewhere: Mapping[str, str] = field(default_factory=dict)

    @property
    def names(self) -> tuple[str, ...]:
        """All keys of this table, those for later last."""
        return self.now + tuple(self.later)


def _family(label: str, kinds: Mapping[str, Keys]) -> dict[str, Keys]:
    """Sister tables, each told which of the others a foreign key belongs to."""
    owner = {key: kind for kind, keys in reversed(list(kinds.items())) for key in keys.names}
    return {
        kind: Keys(
            now=keys.now,
            later=keys.later,
            elsewhere={
                key: label.format(other) for key, other in owner.items() if key not in keys.names
            },
        )
        for kind, keys in kinds.items()
    }


TOP = Keys(
    now=(
        *("name", "units", "blank", "face", "machine", "check"),
        *("cutter", "piece", "clamp", "cut", "plate", "pins", "measured", "order"),
    ),
)
BLANK = Keys(now=("outline", "thickness", "thickness_within", "material", "turn_over"))
FACES = Keys(now=("front", "back"))
FACE = Keys(now=("zero", "surface"))
MACHINE = Keys(
    now=(
        *("travel", "feed_max", "rapid", "acceleration", "spindle", "safe_height", "nut"),
        *("spoilboard", "path_error", "arcs", "decimals", "spindle_wait", "wait_unit", "wait"),
        *("dial", "shoe", "change"),
    ),
    later={"canned_cycles": False},
)
NUT = Keys(now=("diameter", "height"))
SHOE = Keys(now=("diameter", "drop"))
CHECK = Keys(now=("cell", "clearance", "least_floor", "least_wall"))

_CUTTER = (
    *("name", "shape", "diameter", "flutes", "flute_length", "shank", "reach", "rpm"),
    *("feed", "chip", "plunge", "ramp", "stepdown", "stepover", "neck"),
)
CUTTERS = _family(
    'shape = "{}"',
    {
        "flat": Keys(now=_CUTTER),
        "ball": Keys(now=_CUTTER),
        "bull": Keys(now=(*_CUTTER, "corner_radius")),
        "vee": Keys(now=(*_CUTTER, "angle", "tip_diameter")),
        "drill": Keys(now=(*_CUTTER, "angle")),
        "round-over": Keys(now=(*_CUTTER, "radius")),
    },
)
NECK = Keys(now=("diameter", "length"))

PIECE = Keys(
    now=(
        *("name", "solid", "at", "from_front", "from_back", "turn", "rule"),
        *("clearance", "drift", "hardness", "repeat"),
    ),
    later={"measured": None},
)
REPEAT = Keys(now=("count", "step"))
DRIFT = Keys(now=("side", "rise", "turn"))
SOLIDS = _family(
    'kind = "{}"',
    {
        "box": Keys(now=("kind", "size")),
        "cylinder": Keys(now=("kind", "diameter", "height")),
        "sphere": Keys(now=("kind", "diameter")),
        "mesh": Keys(now=("kind", "file", "unit", "scale", "tilt")),
        "prism": Keys(now=("kind", "outline", "height")),
        "heights": Keys(now=("kind", "file", "size", "low", "high")),
    },
)

CLAMP = Keys(now=("face", "outline", "height"))

SHAPES = _family(
    "a {} shape",
    {
        "rect": Keys(now=("rect", "corner")),
        "circle": Keys(now=("circle",)),
        "polygon": Keys(now=("polygon",)),
        "slot": Keys(now=("slot",)),
        "dxf": Keys(now=("dxf", "layer", "unit", "join")),
        "svg": Keys(now=("svg", "id", "join")),
    },
)

_CUT = (
    *("name", "face", "do", "depth", "through", "below", "cutter", "if_blocked"),
    *("through_hard", "finish", "clear_chips"),
)
_SKIM = (*("name", "face", "do", "depth", "cutter", "if_blocked", "through_hard", "clear_chips"),)
CUTS = _family(
    'do = "{}"',
    {
        "pocket": Keys(
            now=(
                *_CUT,
                *("outline", "islands", "ledge", "finish_floor", "spring_passes"),
                *("inside_corners", "engage"),
            ),
        ),
        "profile": Keys(now=(*_CUT, "outline", "side", "tabs", "spring_passes")),
        "drill": Keys(now=(*_CUT, "at", "diameter", "peck")),
        "face": Keys(now=(*_SKIM, "way", "along", "beyond", "thickness", "least_cover")),
        "relief": Keys(
            now=(
                *(key for key in _CUT if key != "through"),
                *("map", "outline", "finish_by", "angle", "cusp"),
            ),
        ),
    },
)
CUTS_LATER = ("edge", "engrave")
"""What `do` will also say."""
MAPS = _family(
    "a map from {}",
    {
        "samples": Keys(now=("file", "size", "at", "turn", "low", "high", "smooth")),
        "a mesh": Keys(now=("file", "at", "turn", "high", "unit", "scale", "tilt")),
    },
)
LEDGES = _family(
    "a ledge with {}",
    {"outline": Keys(now=("outline", "depth")), "width": Keys(now=("width", "depth"))},
)
TABS = Keys(now=("count", "width", "height"))
PATTERNS = _family(
    "a pattern with {}",
    {
        "from": Keys(now=("from", "step", "count")),
        "centre": Keys(now=("centre", "radius", "count", "first")),
        "dxf": Keys(now=("dxf", "layer", "unit")),
    },
)

PLATE = Keys(now=("for", "gap", "cutter", "stock", "tabs", "skin", "screws"))
STOCK = Keys(now=("size", "thickness", "material"))
SCREWS = Keys(
    now=("diameter", "count", "at", "pilot", "depth", "edge", "slack", "hole"),
)
PINS = Keys(now=("cutter", "diameter", "board", "inset", "at", "mark"))
MEASURED = Keys(now=("size", "thickness"))

ALL: tuple[Keys, ...] = (
    *(TOP, BLANK, FACES, FACE, MACHINE, NUT, SHOE, CHECK, PIECE, REPEAT, DRIFT, CLAMP),
    *CUTTERS.values(),
    NECK,
    *SOLIDS.values(),
    *SHAPES.values(),
    *CUTS.values(),
    *MAPS.values(),
    *LEDGES.values(),
    *PATTERNS.values(),
    *(TABS, PLATE, STOCK, SCREWS, PINS, MEASURED),
)

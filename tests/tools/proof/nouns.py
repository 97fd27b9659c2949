"""A job as the proof has it: millimetres, degrees, words of the job file."""

import math
from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Cutter:
    """`words` are those of its shape: corner_radius, angle, tip_diameter, radius."""

    shape: str
    diameter: float
    flute_length: float
    shank: float
    reach: float
    words: dict[str, float] = field(default_factory=dict)
    stepdown: float = 2.0


@dataclass(frozen=True, kw_only=True)
class Piece:
    """`solid` is the table of the job file with lengths in mm; `shape` what geometry needs of it:
    a shapely polygon (prism), corners (v, 3) with triangles (t, 3) (mesh, heights), else None."""

    name: str
    solid: dict
    shape: object
    at: tuple[float, float]
    face: str
    depth: float
    turn: float = 0.0
    side: float = 0.0
    rise: float = 0.0
    swing: float = 0.0
    clearance: float = 1.0
    rule: str = "keep"

    @property
    def kind(self) -> str:
        return self.solid["kind"]


@dataclass(frozen=True, kw_only=True)
class Clamp:
    face: str
    rect: tuple[float, float, float, float]
    height: float


@dataclass(frozen=True, kw_only=True)
class Job:
    """`files` are written beside the job file: name to bytes. `cuts` is TOML text in the unit of
    the job. `face` and `zeros` of it: the face that is up, and the zero of each face."""

    units: str
    box: tuple[float, float, float, float]
    thickness: float
    within: float
    turn_over: str
    zeros: dict[str, str]
    face: str
    path_error: float
    clearance: float
    cell: float
    nut: float
    cutter: Cutter
    pieces: tuple[Piece, ...]
    clamps: tuple[Clamp, ...] = ()
    files: dict[str, bytes] = field(default_factory=dict)
    cuts: str = ""

    @property
    def unit(self) -> float:
        """Its unit in mm."""
        return {"mm": 1.0, "in": 25.4}[self.units]

    @property
    def up(self) -> float:
        """Which way the spindle stands from the tip, along z of the blank frame."""
        return 1.0 if self.face == "front" else -1.0


def toml(job: Job) -> str:
    """The job file."""

    def n(*values: float) -> str:
        return ", ".join(repr(float(value) / job.unit) for value in values)

    x0, y0, x1, y1 = job.box
    cutter = job.cutter
    lines = [
        'name = "proof"',
        f'units = "{job.units}"',
        "[blank]",
        f"outline = {{ rect = [{n(x0, y0, x1, y1)}] }}",
        f"thickness = {n(job.thickness)}",
        f"thickness_within = {n(job.within)}",
        'material = "resin"',
        f'turn_over = "{job.turn_over}"',
        *(f'[face.{face}]\nzero = "{zero}"' for face, zero in job.zeros.items()),
        "[machine]",
        f"travel = [{n(900, 900, 300)}]",
        f"feed_max = {n(3000)}",
        "spindle = [8000, 24000]",
        f"safe_height = {n(5)}",
        f"path_error = {n(job.path_error)}",
        f"nut = {{ diameter = {n(job.nut)}, height = {n(18)} }}",
        "[check]",
        f"cell = {n(job.cell)}",
        f"clearance = {n(job.clearance)}",
        "[[cutter]]",
        'name = "tool"',
        f'shape = "{cutter.shape}"',
        f"diameter = {n(cutter.diameter)}",
        "flutes = 2",
        f"flute_length = {n(cutter.flute_length)}",
        f"shank = {n(cutter.shank)}",
        f"reach = {n(cutter.reach)}",
        "rpm = 12000",
        f"feed = {n(1200)}",
        f"plunge = {n(300)}",
        f"stepdown = {n(job.cutter.stepdown)}",
        "stepover = 0.4",
        *(
            f"{key} = {value!r}" if key == "angle" else f"{key} = {n(value)}"
            for key, value in cutter.words.items()
        ),
    ]
    for piece in job.pieces:
        lines += [
            "[[piece]]",
            f'name = "{piece.name}"',
            f"solid = {_solid(piece.solid, n)}",
            f"at = [{n(*piece.at)}]",
            f"from_{piece.face} = {n(piece.depth)}",
            f"turn = {piece.turn!r}",
            f'rule = "{piece.rule}"',
            'hardness = "wood"',
            f"clearance = {n(piece.clearance)}",
            f"drift = {{ side = {n(piece.side)}, rise = {n(piece.rise)}, turn = {piece.swing!r} }}",
        ]
    for clamp in job.clamps:
        lines += [
            "[[clamp]]",
            f'face = "{clamp.face}"',
            f"outline = {{ rect = [{n(*clamp.rect)}] }}",
            f"height = {n(clamp.height)}",
        ]
    return "\n".join([*lines, job.cuts, ""])


def _solid(solid: dict, n) -> str:
    """A solid's table; its lengths are floats and lists of floats, all else stays as it is."""

    def value(key: str, given: object) -> str:
        if key in ("tilt", "scale"):
            return repr(given)
        if isinstance(given, dict):
            inner = ", ".join(f"{k} = {value(k, v)}" for k, v in given.items())
            return f"{{ {inner} }}"
        if isinstance(given, str):
            return f'"{given}"'
        if isinstance(given, list):
            return "[" + ", ".join(value(key, each) for each in given) + "]"
        return n(given)

    return value("", solid)


def placed_corners(piece: Piece, thickness: float) -> np.ndarray:
    """(v, 3) of a mesh or measured top where it nominally lies, blank frame: tilted about x, then
    y, turned, its box in plan put at `at`, its nearest point `depth` from its face."""
    points, _ = piece.shape
    a, b = (math.radians(each) for each in piece.solid.get("tilt", [0.0, 0.0]))
    x, y, z = points.T
    y, z = y * math.cos(a) - z * math.sin(a), y * math.sin(a) + z * math.cos(a)
    x, z = x * math.cos(b) + z * math.sin(b), z * math.cos(b) - x * math.sin(b)
    c, s = math.cos(math.radians(piece.turn)), math.sin(math.radians(piece.turn))
    x, y = x * c - y * s, x * s + y * c
    x = x - (x.min() + x.max()) / 2.0 + piece.at[0]
    y = y - (y.min() + y.max()) / 2.0 + piece.at[1]
    z = (
        z - z.max() - piece.depth
        if piece.face == "front"
        else z - z.min() - thickness + piece.depth
    )
    return np.column_stack([x, y, z])

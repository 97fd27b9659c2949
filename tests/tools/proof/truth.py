"""How much more than it needs a program keeps from everything: the truth beside the check's."""

import math
from dataclasses import dataclass

from proof import triangles, upright
from proof.nouns import Job
from proof.ways import ways_of
from proof.words import read

BANDS = {"mesh": 0.25, "heights": 0.25}
SIMPLE_BAND = 0.02
"""What may be refused although it keeps more than needed by that much, mm; meshes' by BANDS."""

ENTERED = 0.02
"""What entering a piece counts for at least, mm."""


@dataclass(frozen=True)
class Near:
    """A gap that lies between `low` and `high`, and what is needed there."""

    name: str
    kind: str
    low: float
    high: float
    need: float

    @property
    def middle(self) -> float:
        """The best guess at the gap."""
        return (self.low + self.high) / 2.0 if self.high < math.inf else self.low

    @property
    def band(self) -> float:
        return BANDS.get(self.kind, SIMPLE_BAND)


@dataclass(frozen=True)
class Truth:
    near: tuple[Near, ...]

    @property
    def breach(self) -> float:
        """By how much the program surely comes too near, mm; 0 or less where it may be clear. What
        enters a piece is too near also where no gap is asked for."""
        return max(
            (n.need - n.high if n.high > 0.0 else max(n.need, ENTERED) for n in self.near),
            default=-math.inf,
        )

    @property
    def spare(self) -> float:
        """By how much the program surely keeps more than the need and the stated band."""
        return min((n.low - n.need - n.band for n in self.near), default=math.inf)


def truth_of(job: Job, text: str) -> Truth:
    """Raises UnreadError for a text that means nothing."""
    ways = ways_of(job, read(text, job.units))
    near = []
    for piece in job.pieces:
        if piece.rule != "keep":
            continue
        need = piece.clearance + job.path_error
        if piece.kind in ("mesh", "heights"):
            low, high, _ = triangles.gap(ways, triangles.solid_of(job, piece))
        else:
            low, high, _ = upright.gap(ways, upright.standing(job, piece))
        near.append(Near(piece.name, piece.kind, low, high, need))
    for clamp in job.clamps:
        if clamp.face == job.face:
            low, high, _ = upright.gap(ways, upright.standing_clamp(job, clamp))
            near.append(Near("clamp 1", "clamp", low, high, job.clearance + job.path_error))
    return Truth(tuple(near))

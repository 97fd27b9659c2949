"""What every path keeps in hand, in millimetres unless a name says otherwise.

Common practice at a hobby router, no source; each says on which side it errs.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowances:
    """How far a path stays from what it must not do."""

    rapid_above: float = 1.0
    """A rapid that goes down ends this far above the face or the floor below it."""

    ramp_above_face: float = 0.5
    """The first ramp begins this far above the face, so that a high blank is not plunged into."""

    ramp_above_floor: float = 0.2
    """Later ramps begin this far above the floor cut before."""

    peck_above: float = 0.5
    """A drill returns by rapid to this far above the bottom of the last peck."""

    above_cleared: float = 0.5
    """A rapid ends this far above a floor that the same job cut before."""

    beside: float = 0.3
    """A rapid goes below the face only where the cutter has this much air all round."""

    helix_most: float = 0.45
    """Radius of a helix path over the cutter's diameter; under a half, so that no post stays."""

    helix_least: float = 0.25
    """The same at the tightest; a tighter helix is too near to a plunge."""

    channel: float = 0.05
    """A channel wider than the cutter by less than this share of its diameter is ramped down in
    its middle."""

    slope: float = 0.99
    """Share of the cutter's ramp that is used, so that fitted arcs never make it steeper."""

    ring_least: float = 1.0
    """Loops shorter than this are no way in: going round them is a plunge."""

    link_most: float = 15.0
    """Links between levels that stay down are at most this many diameters long."""

    link_share: float = 0.03
    """... and at most this share of the path of a level; else one lift is quicker."""

    spare: float = 0.05
    """Overlap of neighbouring rings when it is decided that a ring is not needed."""

    inner_bound: float = 0.002
    """Rounding of the arcs of rings that do not run along a wall."""

    cover_bound: float = 0.001
    """Rounding of the ends of a path when it is asked what it cuts; errs towards uncut."""

    measured: float = 5e-5
    """Rounding of the drawing when it is measured what of it is left."""

    rest_near: float = 0.05
    """Where the rim of a thinner cutter is this near to what a larger one left, its paths are
    looked at."""

    rest_overlap: float = 0.1
    """How much of a path in air is kept before it takes something of that, and behind."""

    air_most: float = 1.0
    """More air than this many diameters between two stretches that take something is crossed by
    rapid, above."""

    sure: float = 0.01
    """A disc counts as in air only this much clear of what may stand."""

    neck: float = 0.003
    """How far the cutter may enter each wall of a channel as wide as itself."""

    neck_least: float = 0.2
    """Channels shorter than this are corners."""

    mouth: float = 0.3
    """How far narrow places are cut into what they open into."""

    lead_most: float = 0.5
    """Radius of the arc on to a wall over the cutter's diameter, at most."""

    lead_overlap: float = 1.0
    """How far a last pass along a wall goes on past where it began."""

    inner_fit: float = 0.005
    """Largest distance of an emitted arc from the curve of such a ring, and of one along a wall
    on the side away from it."""

    strip_share: float = 0.8
    """Share of `TOLERANCES.area` that arcs along walls may leave; the rest is for the chords of
    their corners."""

    same: float = 1e-6
    """Points of a path nearer than this are one point; a hundredth of what a program writes."""


ALLOWANCES = Allowances()

"""Every tolerance in one place, each with its reason and the side on which it errs."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """Lengths in mm unless a name says otherwise."""

    join: float = 0.01
    """Ends of drawing entities closer than this are one point (the job may say otherwise)."""

    equal: float = 1e-6
    """Lengths of a job closer than this are the same: what turning inches into mm may change.
    Errs towards taking the job."""

    inside_blank: float = 0.01
    """How far a cut's outline may reach past the edge of the blank (or an island past its
    outline): drawings are rounded. Errs towards taking the job; the check judges the moves."""

    flatten: float = 0.0005
    """Largest distance of a chord from its curve. Errs inward for what is removed and outward
    for what is kept; small, because the uncut strip it leaves runs along the whole wall."""

    offset: float = 0.0002
    """How much further than asked an offset loop may stay from its wall: the library's arcs are
    chords, and this is added so that they never come nearer. Errs away from the wall."""

    arc_fit: float = 0.001
    """How much nearer to a wall than the loop that it replaces an emitted arc may come, and its
    largest distance, either side, where nothing is known of what lies beside. On the side away
    from a wall 0.005 is the house limit (`plan.curves`)."""

    arc_radius_mm: float = 0.002
    """Start and end radius of a centre-format arc may differ by this in mm programs
    (NISTIR 6556, section 3.5.3.2)."""

    arc_radius_inch: float = 0.0002
    """The same in inches, in inch programs; not the same length (NISTIR 6556, 3.5.3.2)."""

    arc_chord: float = 0.0005
    """Largest distance of an arc outside the XY plane (G18, G19) from the straight moves that the
    reader makes of it. The check asks for this much more room: errs towards refusing."""

    planner_margin: float = 0.03
    """What the planner keeps beyond the clearance, so that rounding never turns a plan down."""

    judge: float = 0.002
    """The exact check stops splitting a move at this length and then refuses it. Errs towards
    refusing, by at most this much."""

    cover: float = 0.01
    """Stock slivers thinner than this beside a path already cut are not counted as stock."""

    area: float = 1e-4
    """Uncut share of what a cutter can reach that a pocket may leave."""

    rounding: float = 1e-9
    """Slack for float64 rounding of positions in a workshop's size, mm. Errs towards the piece
    being larger."""


TOLERANCES = Tolerances()

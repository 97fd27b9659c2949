"""The fast way through lines of common words: G0 to G3, X, Y, Z, I, J, F, N and comments.

Whatever is not wholly plain is left to the interpreter, so all that is refused, noted or assumed
comes from there; what runs here gives the same moves to the last bit. In force must be what the
interpreter has settled before: a move, the modes, a noted spindle.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from toolpath.field import kernels
from toolpath.rs274.arcs import SAME
from toolpath.rs274.codes import Group
from toolpath.rs274.interpret import MADE_LIMIT, TINY_SWEEP, Machine
from toolpath.rs274.lines import Lines
from toolpath.rs274.modes import Modes
from toolpath.rs274.planes import PLANES, XY
from toolpath.tolerances import TOLERANCES
from toolpath.units import Unit

_CODES = 100
"""G codes under this may be common."""


def run_common(machine: Machine, lines: Lines) -> None:
    """Run the next lines while they are plain; none, if more has to be settled first."""
    rows = machine.rows
    if not len(rows) or machine.modes.sticky is not None:
        return
    allowed, limits = _allowed(machine.modes), _limits(machine.modes)
    while True:
        data, at, stop = lines.ahead()
        state, modes = _state(machine), _modes(machine)
        number = lines.last[0] + 1
        most = min(rows.room, MADE_LIMIT + number)
        after, last, following, count, arcs = kernels.common_lines(
            np.frombuffer(data, dtype=np.uint8),
            (at, stop, number, lines.limit),
            (len(rows), most, rows.arcs),
            state,
            modes,
            allowed,
            limits,
            np.zeros(8),
            rows.columns,
        )
        if following == number:
            return
        rows.extend(count, arcs)
        lines.skip(after, last, following - 1)
        machine.resume(motion=int(state[0]), feed=float(state[1]))
        if count < rows.room:
            return
        rows.grow(int(1.02 * count / max(lines.done, 1e-9)) if lines.done < 1.0 else 0)


def _state(machine: Machine) -> NDArray[np.float64]:
    """Motion and feed, as the kernel has them."""
    modes = machine.modes
    motion = modes.motion // 10 if modes.motion is not None and modes.motion <= 30 else -1
    return np.array([motion, -1.0 if modes.feed is None else modes.feed])


def _modes(machine: Machine) -> NDArray[np.float64]:
    modes = machine.modes
    return np.array(
        [modes.unit.mm, not modes.absolute, machine.spindle_noted, modes.plane is XY],
        dtype=np.float64,
    )


def _limits(modes: Modes) -> tuple[float, float, float]:
    inch = modes.unit is Unit.INCH
    radius = TOLERANCES.arc_radius_inch * Unit.INCH.mm if inch else TOLERANCES.arc_radius_mm
    return radius, SAME, TINY_SWEEP


def _allowed(modes: Modes) -> NDArray[np.int64]:
    """Codes of motion, and codes that were said before and change nothing; a bit for each group."""
    plane = next(code for code, plane in PLANES.items() if plane is modes.plane)
    in_force = {
        Group.PLANE: plane,
        Group.DISTANCE: 900 if modes.absolute else 910,
        Group.FEED_MODE: 940,
        Group.UNITS: 200 if modes.unit is Unit.INCH else 210,
        Group.ZERO: modes.zero,
    }
    allowed = np.zeros(_CODES, dtype=np.int64)
    allowed[:4] = 1
    for bit, (group, code) in enumerate(in_force.items(), 1):
        if group in modes.stated and code % 10 == 0:
            allowed[code // 10] = 1 << bit
    return allowed

"""The ways of a program in the blank frame, as columns: places along them, and how fast they go."""

from dataclasses import dataclass

import numpy as np
from independent import to_blank

from proof.nouns import Job
from proof.words import ARC, AXES, RAPID, Way


@dataclass(frozen=True)
class Ways:
    """Columns (n,) of lines and arcs in the program frame, and the frame; rapids that move more
    than one axis are `boxes` (m, 2, 3), corners in the blank frame."""

    job: Job
    a: np.ndarray
    b: np.ndarray
    arc: np.ndarray
    axes: np.ndarray
    centre: np.ndarray
    first: np.ndarray
    grown: np.ndarray
    angle: np.ndarray
    sweep: np.ndarray
    boxes: np.ndarray

    def __len__(self) -> int:
        return len(self.a)

    def at(self, row: np.ndarray, share: np.ndarray) -> np.ndarray:
        """(k, 3) places in the blank frame."""
        points = self.a[row] + (self.b - self.a)[row] * share[:, None]
        round_ = np.flatnonzero(self.arc[row])
        of, t = row[round_], share[round_]
        radius = self.first[of] + self.grown[of] * t
        turned = self.angle[of] + self.sweep[of] * t
        points[round_, self.axes[of, 0]] = self.centre[of, 0] + radius * np.cos(turned)
        points[round_, self.axes[of, 1]] = self.centre[of, 1] + radius * np.sin(turned)
        return to_page(self.job, points)

    @property
    def speed(self) -> np.ndarray:
        """(n,) the most that a place moves by, mm for the whole of the way."""
        across = self.axes[:, 2]
        every = np.arange(len(self))
        level = np.abs((self.b - self.a)[every, across])
        widest = np.maximum(self.first, self.first + self.grown)
        curved = np.sqrt((widest * self.sweep) ** 2 + self.grown**2 + level**2)
        return np.where(self.arc, curved, np.linalg.norm(self.b - self.a, axis=1))

    @property
    def bend(self) -> np.ndarray:
        """(n,) how far the whole way may leave its chord, mm; a share s of it s squared of that."""
        widest = np.maximum(self.first, self.first + self.grown)
        second = widest * self.sweep**2 + 2.0 * np.abs(self.grown * self.sweep)
        return np.where(self.arc, second / 8.0, 0.0)


def to_page(job: Job, points: np.ndarray) -> np.ndarray:
    """Program frame to blank frame."""
    zero = job.zeros.get(job.face, "lower-left")
    return to_blank(points, job.face, job.turn_over, zero, job.box, job.thickness)


def from_page(job: Job, points: np.ndarray) -> np.ndarray:
    """Blank frame to program frame: each axis goes one way or the other."""
    origin = to_page(job, np.zeros((1, 3)))[0]
    way = (to_page(job, np.ones((1, 3))) - origin)[0]
    return (points - origin) * way


def ways_of(job: Job, read: list[Way]) -> Ways:
    plain = [w for w in read if w.kind != RAPID or np.count_nonzero(w.a != w.b) < 2]
    rapid = [w for w in read if w.kind == RAPID and np.count_nonzero(w.a != w.b) >= 2]
    arc = np.array([w.kind == ARC for w in plain], dtype=bool)
    a = np.array([w.a for w in plain]).reshape(-1, 3)
    b = np.array([w.b for w in plain]).reshape(-1, 3)
    axes = np.array([AXES[w.plane] for w in plain], dtype=int).reshape(-1, 3)
    centre = np.array([w.centre for w in plain]).reshape(-1, 2)
    every = np.arange(len(plain))[:, None]
    begin, end = a[every, axes[:, :2]] - centre, b[every, axes[:, :2]] - centre
    first = np.where(arc, np.hypot(*begin.T), 0.0)
    last = np.where(arc, np.hypot(*end.T), 0.0)
    corners = np.array([[w.a, w.b] for w in rapid]).reshape(-1, 3)
    boxes = to_page(job, corners).reshape(-1, 2, 3)
    return Ways(
        job=job,
        a=a,
        b=b,
        arc=arc,
        axes=axes,
        centre=centre,
        first=first,
        grown=last - first,
        angle=np.arctan2(begin[:, 1], begin[:, 0]),
        sweep=np.array([w.sweep for w in plain]),
        boxes=np.sort(boxes, axis=1),
    )


def turned(points: np.ndarray, about: tuple[float, float], angle: float | np.ndarray) -> np.ndarray:
    """(k, 2+) points turned about a place in plan by angles, radians."""
    c, s = np.cos(angle), np.sin(angle)
    off = points[..., :2] - np.array(about)
    x = about[0] + off[..., 0] * c - off[..., 1] * s
    y = about[1] + off[..., 0] * s + off[..., 1] * c
    rest = np.broadcast_arrays(x, *np.moveaxis(points[..., 2:], -1, 0))[1:]
    return np.stack([x, y, *rest], axis=-1)

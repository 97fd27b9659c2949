"""A turning cutter as simple bodies in the half plane (r, z) above its tip."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_HALVINGS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One convex part of a cutter: the trapezoid between 0..r_low at z_low and 0..r_high at
    z_high, grown by a disc of radius `rounding`; mm, z above the tip.

    It turns about r = 0. Raises ValueError where a length is negative or the ends are swapped.
    """

    part_name: str
    r_low: float
    z_low: float
    r_high: float
    z_high: float
    rounding: float = 0.0

    def __post_init__(self) -> None:
        lengths = (self.r_low, self.r_high, self.rounding, self.z_high - self.z_low)
        if not all(math.isfinite(length) and length >= 0.0 for length in lengths):
            raise ValueError(f"{self} is not a trapezoid that stands upright")

    @property
    def outer_radius(self) -> float:
        """The largest radius of the element, mm."""
        return max(self.r_low, self.r_high) + self.rounding

    def height(self, r: FloatArray, clearance: float) -> FloatArray:
        """Lowest z at radius r of the element grown by the clearance, +inf outside.

        The lower edge of a convex body offset by a disc is the lowest of: the bottom moved
        down, the disc about each corner, and the flank moved along its normal.
        """
        grow = self.rounding + clearance
        low = _disc(r, self.r_low, self.z_low, grow)
        high = _disc(r, self.r_high, self.z_high, grow)
        bottom = np.where(r <= self.r_low, self.z_low - grow, np.inf)
        found = np.minimum(np.minimum(low, high), bottom)
        if self.r_high > self.r_low:
            found = np.minimum(found, self._flank(r, grow))
        return np.asarray(found, dtype=np.float64)

    def _flank(self, r: FloatArray, grow: float) -> FloatArray:
        across, up = self.r_high - self.r_low, self.z_high - self.z_low
        length = math.hypot(across, up)
        first = self.r_low + grow * up / length
        z = self.z_low - grow * across / length + (r - first) * (up / across)
        return np.where((r >= first) & (r <= first + across), z, np.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hollow:
    """The one part of a cutter that is not convex: the concave quarter round, of a `radius`, of a
    cutter that rounds an edge; mm, z above the tip.

    From r_low at z_low it sweeps out, upright first and level at last, to r_low + radius at
    z_low + radius; what is above its curve is cutter, up to that height.
    Raises ValueError where a length is negative.
    """

    part_name: str
    r_low: float
    z_low: float
    radius: float

    def __post_init__(self) -> None:
        lengths = (self.r_low, self.radius)
        if not all(math.isfinite(length) and length >= 0.0 for length in lengths):
            raise ValueError(f"{self} is not a quarter round")

    @property
    def r_high(self) -> float:
        """Radius of its upper end, mm: the middle of the curve stands under it, at z_low."""
        return self.r_low + self.radius

    @property
    def outer_radius(self) -> float:
        """The largest radius, mm."""
        return self.r_high

    def height(self, r: FloatArray, clearance: float) -> FloatArray:
        """Lowest z at radius r of the part grown by the clearance, +inf outside.

        From inside its curve a place is as far from it as the radius exceeds its distance from
        the curve's middle, so the grown curve is a quarter round about the same middle, until
        nothing of it is left; from elsewhere one of its two ends is nearest.
        """
        low = _disc(r, self.r_low, self.z_low, clearance)
        high = _disc(r, self.r_high, self.z_low + self.radius, clearance)
        bottom = np.where(r <= self.r_low, self.z_low - clearance, np.inf)
        found = np.minimum(np.minimum(low, high), bottom)
        left = max(self.radius - clearance, 0.0)
        square = left * left - (self.r_high - r) ** 2
        curve = self.z_low + np.sqrt(np.maximum(square, 0.0))
        under = (r >= self.r_low) & (r <= self.r_high)
        return np.asarray(np.minimum(found, np.where(under, curve, np.inf)), dtype=np.float64)


def _disc(r: FloatArray, centre_r: float, centre_z: float, radius: float) -> FloatArray:
    """Lower edge of a disc and of its mirror image at r = 0; the nearer one is the lower."""
    under = radius * radius - (r - centre_r) ** 2
    inside = np.abs(r - centre_r) <= radius
    return np.where(inside, centre_z - np.sqrt(np.maximum(under, 0.0)), np.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A whole turning cutter: the union of its elements, z = 0 at the tip."""

    elements: tuple[Element | Hollow, ...]

    def only(self, *part_names: str) -> Profile:
        """The cutter with just the parts so named (flutes alone remove stock)."""
        return Profile(elements=tuple(e for e in self.elements if e.part_name in part_names))

    @property
    def outer_radius(self) -> float:
        """The largest radius of any part, mm; 0 for a cutter without parts."""
        return max((e.outer_radius for e in self.elements), default=0.0)

    def height(self, r: FloatArray, clearance: float = 0.0) -> FloatArray:
        """Lowest z above the tip of the cutter grown by the clearance, at radius r.

        The growth is that of a solid: every point within `clearance` of the turning cutter.

        Parameters
        ----------
        r : array of radii >= 0, mm.
        clearance : mm, >= 0.

        Returns
        -------
        Array of the shape of r, mm above the tip (negative under it), +inf where the grown
        cutter is not. It never falls as r grows, so a least radius gives a lower bound and a
        greatest radius an upper bound.
        """
        radii = np.asarray(r, dtype=np.float64)
        lowest = np.full(radii.shape, np.inf)
        for element in self.elements:
            lowest = np.minimum(lowest, element.height(radii, clearance))
        return lowest

    def reach_radius(self, clearance: float, below: float) -> float:
        """The largest radius at which the grown cutter reaches down to `below` above the tip.

        Errs outward, by less than 1e-12 of the radius. 0 where nothing reaches that low.
        """
        inner, outer = 0.0, self.outer_radius + clearance
        if not self.elements or self._height_at(0.0, clearance) > below:
            return 0.0
        if self._height_at(outer, clearance) <= below:
            return outer
        for _ in range(_HALVINGS):
            middle = 0.5 * (inner + outer)
            if self._height_at(middle, clearance) <= below:
                inner = middle
            else:
                outer = middle
        return outer

    def _height_at(self, r: float, clearance: float) -> float:
        return float(self.height(np.array([r]), clearance)[0])

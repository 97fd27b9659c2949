"""Names of program files: lower-case letters, digits and hyphens."""

from __future__ import annotations

from toolpath.job.model import Side
from toolpath.show.words import slug


def program_name(number: int, side: Side, cutter: str) -> str:
    """``NN-FACE-CUTTER.nc``, numbered in cutting order from 1."""
    return f"{number:02d}-{side.value}-{slug(cutter, empty='cutter')}.nc"

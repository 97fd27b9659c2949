"""Names of program files: lower-case letters, digits and hyphens."""

from __future__ import annotations

import re
import unicodedata

from toolpath.job.model import Side


def slug(name: str) -> str:
    """A name reduced to lower-case letters, digits and single hyphens, at most 40 long."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:40].strip("-") or "cutter"


def program_name(number: int, side: Side, cutter: str) -> str:
    """``NN-FACE-CUTTER.nc``, numbered in cutting order from 1."""
    return f"{number:02d}-{side.value}-{slug(cutter)}.nc"

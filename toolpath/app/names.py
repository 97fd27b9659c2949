"""Names of program files, and the short codes that tie a program to its sheet."""

from __future__ import annotations

import hashlib

from toolpath.job.model import Side
from toolpath.show.words import slug

PLATE = "plate"
"""What stands for the face in the names of the programs of a plate."""

_LETTERS = "ACDEFHJKLNPQRTUVWXY34679"
"""Of a code: none that is taken for another on a bad screen."""
_CODE_LENGTH = 5


def face_word(side: Side, *, plate: bool) -> str:
    """front, back or plate."""
    return PLATE if plate else side.value


def program_name(number: int, face: str, cutter: str) -> str:
    """``NN-FACE-CUTTER.nc``, numbered in cutting order from 1."""
    return f"{number:02d}-{face}-{slug(cutter, empty='cutter')}.nc"


def short_code(text: str) -> str:
    """Five letters that change with every change of a text: two programs share one by accident
    once in eight million."""
    value = int.from_bytes(hashlib.sha256(text.encode()).digest(), "big")
    code = ""
    for _ in range(_CODE_LENGTH):
        value, place = divmod(value, len(_LETTERS))
        code += _LETTERS[place]
    return code

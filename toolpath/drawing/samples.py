"""Grids of samples read raw: grey images, NPY arrays and CSV tables.

The first row of a file is its top, so it comes last here: arrays are [row, column], row along +y.
No gamma, colour profile or turning that a file asks for is applied: what changes the numbers or
their order is refused.
"""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from toolpath.errors import DrawingError

ENDINGS = (".png", ".tif", ".tiff", ".npy", ".csv")
"""The file endings that are read."""

MOST_SAMPLES = 4_000_000
"""Largest grid that is read: 2,000 by 2,000."""

_MOST_BYTES = 100_000_000
_FARTHEST = 1e9  # of a plain number, in any unit
_GREY = {"L": 255.0, "I;16": 65535.0, "I;16B": 65535.0, "I;16L": 65535.0}
_KINDS = {
    "1": " (black and white alone)",
    "P": " (colours of a palette)",
    "PA": " (colours of a palette)",
    "LA": " (grey with transparency)",
    "RGB": " (colours)",
    "RGBA": " (colours with transparency)",
    "CMYK": " (colours)",
    "I": " (whole numbers of 32 bits)",
    "F": " (numbers with a point)",
}
_WHITE_IS_ZERO, _BITS, _INTERPRETATION, _ORIENTATION = 0, 258, 262, 274  # TIFF 6.0, section 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """A grid of at least 2 by 2 finite samples that are not all the same.

    `values` is [row, column], row along +y, read-only. `full_scale` is the number that stands for
    the top where the file counts in whole steps from 0 (images, uint8 and uint16 arrays); None
    for plain numbers.
    """

    values: NDArray[np.float64] = field(repr=False)
    full_scale: float | None

    def between(self, low: float, high: float) -> NDArray[np.float64]:
        """The samples as heights: 0 is `low` and the full scale `high`; of plain numbers the
        least is `low` and the greatest `high`."""
        if self.full_scale is not None:
            share = self.values / self.full_scale
        else:
            least = float(self.values.min())
            share = (self.values - least) / (float(self.values.max()) - least)
        return np.asarray(low * (1.0 - share) + high * share, dtype=np.float64)


def read_samples(path: Path) -> Samples:
    """Read a grid of samples from an image, an array or a table.

    Parameters
    ----------
    path : Path
        PNG or TIFF in grey of 8 or 16 bits a sample, NPY of whole numbers or floats, or CSV with
        commas, semicolons, tabs or spaces between plain numbers and a line for each row.

    Raises
    ------
    DrawingError
        A file that is missing, broken, cut short, too large or of another kind; an image with
        colours, transparency, several pages or an order of its own to be shown in; rows of
        different lengths, numbers that are not finite, all the same, or fewer than 2 by 2.
    """
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise DrawingError(
            f'{path.name}: a grid of samples ends in {", ".join(ENDINGS)}, not "{path.suffix}": '
            "save it as one of those"
        )
    check_file(path)
    reader = {".npy": _array, ".csv": _table}.get(ending, _image)
    try:
        values, full_scale = reader(path)
        _check_values(values)
    except DrawingError as error:
        raise DrawingError(f"{path.name}: {error}") from error
    values = np.ascontiguousarray(values[::-1], dtype=np.float64)
    values.flags.writeable = False
    return Samples(values=values, full_scale=full_scale)


def check_file(path: Path) -> None:
    """Raises DrawingError for a file that is missing, empty or too large to be read."""
    try:
        size = path.stat().st_size
    except OSError as error:
        raise DrawingError(
            f"{path.name}: cannot be read ({error.strerror}): check its name"
        ) from error
    if not path.is_file() or size == 0:
        raise DrawingError(f"{path.name}: the file is empty: save it again")
    if size > _MOST_BYTES:
        raise DrawingError(
            f"{path.name}: {size / 1e6:.0f} MB is more than the {_MOST_BYTES / 1e6:.0f} MB that "
            "are read: take fewer samples"
        )


def _check_count(rows: int, columns: int) -> None:
    if rows * columns > MOST_SAMPLES:
        raise DrawingError(
            f"{columns} by {rows} samples are more than the {MOST_SAMPLES} that are read: make it "
            "smaller"
        )


def _check_values(values: NDArray[np.float64]) -> None:
    if values.ndim != 2 or min(values.shape) < 2:
        shape = " by ".join(str(count) for count in values.shape) or "one number"
        raise DrawingError(f"it holds {shape}: a grid needs rows and columns, at least 2 by 2")
    if not (np.abs(values) < _FARTHEST).all():
        row, column = np.argwhere(~(np.abs(values) < _FARTHEST))[0]
        raise DrawingError(
            f"the sample in row {row + 1}, column {column + 1} is {values[row, column]:g}: every "
            f"sample must be a number below {_FARTHEST:g}; fill the holes of the measurement"
        )
    if values.min() == values.max():
        raise DrawingError(
            f"all its samples are {values.min():g}, and two must differ: save it again, or "
            "give what is flat as a solid (a piece) or a pocket (a cut)"
        )


_Found = tuple[NDArray[np.float64], float | None]


# ---- images ----------------------------------------------------------------------------------


def _image(path: Path) -> _Found:
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # sizes are judged below
            with Image.open(path, formats=("PNG", "TIFF")) as image:
                _check_image(image)
                return np.asarray(image).astype(np.float64), _GREY[image.mode]
    except DrawingError:
        raise
    except Image.DecompressionBombError as error:
        raise DrawingError(
            f"it holds far more than the {MOST_SAMPLES} samples that are read: make it smaller"
        ) from error
    except Exception as error:  # a parser fed with a broken file may raise anything
        raise DrawingError(
            "cannot be read as PNG or TIFF: it is cut short, broken or another kind of file; save "
            "it again"
        ) from error


def _check_image(image: Any) -> None:
    _check_count(image.height, image.width)
    tags = image.tag_v2 if image.format == "TIFF" else {}
    if image.mode not in _GREY or tags.get(_BITS, (8,))[0] not in (8, 16):
        raise DrawingError(
            f"its samples are of the kind {image.mode}{_KINDS.get(image.mode, '')}: save it as "
            "grey of 8 or 16 bits, without colours or transparency"
        )
    if "transparency" in image.info:
        raise DrawingError("one grey is transparent: save it without transparency")
    if getattr(image, "n_frames", 1) != 1:
        raise DrawingError(f"it holds {image.n_frames} pictures: save one alone")
    if tags.get(_INTERPRETATION) == _WHITE_IS_ZERO:
        raise DrawingError("its 0 stands for white: save it so that 0 is black")
    if image.getexif().get(_ORIENTATION, 1) != 1:
        raise DrawingError("it is to be turned when shown: save it upright")


# ---- arrays and tables -----------------------------------------------------------------------


def _array(path: Path) -> _Found:
    try:
        with np.errstate(all="ignore"):  # of a size beyond all numbers, which is refused
            stored = np.load(path, mmap_mode="r", allow_pickle=False)
    except Exception as error:  # a broken header may raise anything
        if "Python objects" in str(error):
            raise DrawingError(
                "it holds objects, not numbers: save one array of whole numbers or floats"
            ) from error
        raise DrawingError(
            "cannot be read as NPY: it is cut short, broken or another kind of file; save it again"
        ) from error
    if not isinstance(stored, np.ndarray) or stored.dtype.kind not in "iuf":
        kind = stored.dtype if isinstance(stored, np.ndarray) else "a bundle of arrays"
        raise DrawingError(f"it holds {kind}: save one array of whole numbers or floats")
    if stored.ndim == 2:
        _check_count(*stored.shape)
    elif stored.size > MOST_SAMPLES:
        _check_count(stored.size, 1)
    counted = stored.dtype.kind == "u" and stored.dtype.itemsize <= 2
    full_scale = float(np.iinfo(stored.dtype).max) if counted else None
    return stored.astype(np.float64), full_scale


def _table(path: Path) -> _Found:
    return read_table(path, skip=0), None


def read_table(path: Path, *, skip: int) -> NDArray[np.float64]:
    """The plain numbers of a CSV file, (rows, columns), rows in the order of the file.

    Commas, semicolons, tabs or spaces stand between them, whichever the first line shows, in that
    order: semicolon, tab, comma, space. `skip` lines at the top are left out.

    Raises
    ------
    DrawingError
        Text that is no number, rows of different lengths, or more than `MOST_SAMPLES` numbers.
    """
    lines = _lines(path)[skip:]
    if not lines:
        raise DrawingError("there is no number in it: give a line for each row")
    between = _separator(lines[0])
    columns = lines[0].count(between) + 1 if between else len(lines[0].split())
    _check_count(len(lines), columns)
    try:
        return np.loadtxt(lines, delimiter=between, ndmin=2, comments=None)
    except ValueError as error:
        raise DrawingError(
            f"{_stray(lines, between)}: write plain numbers with a decimal point, as many in every "
            "line"
        ) from error


def _stray(lines: list[str], between: str | None) -> str:
    """What keeps a text from being a table of numbers, and where; lines count from 1."""
    wanted = len(lines[0].split(between))
    for number, line in enumerate(lines, start=1):
        words = line.split(between)
        if len(words) != wanted:
            return f"line {number} holds {len(words)} numbers, the first one {wanted}"
        for column, word in enumerate(words, start=1):
            try:
                float(word)
            except ValueError:
                return f'line {number}, column {column}: "{word.strip()[:40]}" is no number'
    return "it is no table of numbers"


def _lines(path: Path) -> list[str]:
    """The lines of a text file that are not empty."""
    data = path.read_bytes()
    count = max(data.count(b"\n"), data.count(b"\r"))
    if count > MOST_SAMPLES:
        raise DrawingError(
            f"it holds {count} lines: at most {MOST_SAMPLES} numbers are read: make it smaller"
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DrawingError("is not UTF-8 text: save it as plain text") from error
    return [line for line in re.split(r"\r\n|\r|\n", text) if line.strip()]


def first_line(path: Path) -> str:
    """The start of a text file's first line that is not empty, for a look at its kind."""
    with path.open("rb") as file:
        text = file.read(1000).decode("utf-8-sig", errors="replace")
    return next((line.strip() for line in text.splitlines() if line.strip()), "")


def _separator(line: str) -> str | None:
    return next((sign for sign in (";", "\t", ",") if sign in line), None)

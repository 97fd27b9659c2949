"""Colours as bare values: told apart by colour-blind eyes, and by lightness in a grey print.

The single colours are of a published set for colour-blind readers. Depths
use two ramps of one hue each, even in lightness: blue for what is cut (deeper is darker), orange
for pieces (nearer to this face is darker), so that hue says what it is and lightness how deep.
"""

from __future__ import annotations

Rgb = tuple[float, float, float]

BLACK = "#000000"
INK = "#1A1A1A"
GREY = "#6E6E6E"
PALE = "#D9D9D9"
WHITE = "#FFFFFF"
ORANGE = "#E69F00"
BLUE = "#0072B2"
VERMILION = "#D55E00"

RESIN = "#F3F6F7"
FEED = "#00456B"
RAPID = "#A3306F"
SHANK = "#B8B8B8"
FLUTES = "#56B4E9"
NUT = "#8A8A8A"
SHOE = "#D8D8D8"
SPOILBOARD = "#C9B79C"

_CUT_SHALLOW: Rgb = (0.89, 0.94, 0.98)
_CUT_DEEP: Rgb = (0.38, 0.62, 0.82)
_PIECE_NEAR: Rgb = (0.70, 0.28, 0.00)
_PIECE_DEEP: Rgb = (0.99, 0.91, 0.80)


def _between(low: Rgb, high: Rgb, share: float) -> Rgb:
    """The colour at `share` (held to 0..1) of the way from `low` to `high`."""
    t = min(max(share, 0.0), 1.0)
    red, green, blue = (a + (b - a) * t for a, b in zip(low, high, strict=True))
    return red, green, blue


def cut_tint(depth: float, thickness: float) -> Rgb:
    """Tint of an area cut to `depth` mm in a blank of that thickness: deeper is darker."""
    return _between(_CUT_SHALLOW, _CUT_DEEP, depth / thickness)


def piece_tint(depth: float, thickness: float) -> Rgb:
    """Tint of a piece whose top lies `depth` mm below the face: nearer is darker."""
    return _between(_PIECE_NEAR, _PIECE_DEEP, depth / thickness)


def lightness(colour: Rgb) -> float:
    """Relative luminance 0..1 of an sRGB colour, as a grey print shows it (IEC 61966-2-1)."""
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue

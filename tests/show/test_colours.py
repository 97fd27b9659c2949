import itertools

import numpy as np

from toolpath.show import colours


def test_lightness_is_that_of_the_standard():
    # IEC 61966-2-1 (sRGB): white 1, black 0, pure red 0.2126, mid grey 0.5 -> 0.2140.
    assert abs(colours.lightness((1.0, 1.0, 1.0)) - 1.0) < 1e-9
    assert colours.lightness((0.0, 0.0, 0.0)) == 0.0
    assert abs(colours.lightness((1.0, 0.0, 0.0)) - 0.2126) < 1e-9
    assert abs(colours.lightness((0.5, 0.5, 0.5)) - 0.2140) < 1e-4


def test_depth_reads_in_a_grey_print():
    depths = np.linspace(0.0, 42.0, 22)
    cuts = [colours.lightness(colours.cut_tint(d, 42.0)) for d in depths]
    pieces = [colours.lightness(colours.piece_tint(d, 42.0)) for d in depths]
    assert all(a > b for a, b in itertools.pairwise(cuts))
    assert all(a < b for a, b in itertools.pairwise(pieces))


def test_tints_hold_outside_the_blank():
    assert colours.cut_tint(99.0, 42.0) == colours.cut_tint(42.0, 42.0)
    assert colours.piece_tint(-1.0, 42.0) == colours.piece_tint(0.0, 42.0)


def test_refused_and_feeds_stand_off_the_blank_in_grey():
    def grey(code: str) -> float:
        red, green, blue = (int(code[i : i + 2], 16) / 255 for i in (1, 3, 5))
        return colours.lightness((red, green, blue))

    resin = grey(colours.RESIN)
    for code in (colours.VERMILION, colours.FEED, colours.RAPID, colours.INK):
        # W3C WCAG 2.1, 1.4.11: 3:1 for what has to be told apart in a drawing.
        assert (resin + 0.05) / (grey(code) + 0.05) >= 3.0

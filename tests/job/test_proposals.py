import math
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from toolpath.job.materials import material_of, materials
from toolpath.job.model import Cutter, Machine, Neck, Shape
from toolpath.job.proposals import (
    chip_of,
    depth_share,
    feed_of,
    least_chip,
    proposed,
    settable,
    slenderness,
    surface_speed,
)

DATA = tomllib.loads((Path(__file__).parents[2] / "shared/cutting-data.toml").read_text())
ALL = frozenset({"rpm", "feed", "plunge", "stepdown", "stepover"})
RESIN = material_of("casting resin")


def cutter(**given_figures):
    figures = {
        "name": "flat 6",
        "shape": Shape.FLAT,
        "diameter": 6.0,
        "flutes": 1,
        "flute_length": 20.0,
        "shank": 6.0,
        "reach": 28.0,
        "rpm": math.nan,
        "feed": math.nan,
        "plunge": math.nan,
        "ramp": math.radians(3.0),
        "stepdown": math.nan,
        "stepover": math.nan,
        "proposed": ALL - set(given_figures),
    } | given_figures
    return Cutter(**figures)


def machine(**other):
    figures = {
        "travel": (600.0, 400.0, 90.0),
        "feed_max": 3000.0,
        "spindle": (8000.0, 24000.0),
        "safe_height": 6.0,
    } | other
    return Machine(**figures)


@pytest.mark.parametrize("row", DATA["worked"])
def test_worked_examples(row):
    made = cutter(diameter=row["diameter"], flutes=row["flutes"], rpm=row["rpm"])
    assert surface_speed(made) == pytest.approx(row["surface"], rel=1e-8)
    assert feed_of(made, row["chip"], machine()) == pytest.approx(row["feed"], rel=1e-8)
    assert chip_of(replace(made, feed=row["feed"])) == pytest.approx(row["chip"], rel=1e-8)


@pytest.mark.parametrize("row", DATA["surface"], ids=lambda row: row["source"])
def test_published_speeds(row):
    made = cutter(diameter=row["diameter"], rpm=row["rpm"])
    assert surface_speed(made) == pytest.approx(row["surface"], rel=row["within"])


@pytest.mark.parametrize("row", DATA["feed"], ids=lambda row: row["source"])
def test_published_feeds(row):
    made = cutter(flutes=row["flutes"], rpm=row["rpm"], feed=row["feed"])
    assert feed_of(made, row["chip"], machine(feed_max=1e6)) == pytest.approx(row["feed"])
    assert chip_of(made) == pytest.approx(row["chip"])


@pytest.mark.parametrize(("deep", "share"), DATA["chart"]["depth"])
def test_deeper_levels_take_thinner_chips(deep, share):
    # The router chart is for one diameter: 25 % less at two, 50 % less at three.
    assert depth_share(cutter(stepdown=6.0 * deep)) == pytest.approx(share)
    assert depth_share(cutter(stepdown=3.0)) == 1.0
    assert depth_share(cutter(stepdown=60.0)) == 0.5


def bend(thin, thick, diameter, shank):
    """Bend at the tip of a stepped round bar for a push of 1 and a stiffness of 1 at the flutes:
    the integral of moment times lever over stiffness (elementary bending)."""
    flutes, _ = quad(lambda x: x * x, 0.0, thin)
    above, _ = quad(lambda x: x * x, thin, thick)
    return flutes + above * (diameter / shank) ** 4


@pytest.mark.parametrize(
    ("diameter", "shank", "flutes", "reach"), [(6, 6, 20, 45), (1.5, 3, 6, 18), (3, 6, 12, 30)]
)
def test_stick_out_by_the_bending_of_a_round_bar(diameter, shank, flutes, reach):
    made = cutter(diameter=diameter, shank=shank, flute_length=flutes, reach=reach)
    rod = slenderness(made) * diameter  # a plain rod as long as that bends as much
    expected = bend(flutes, reach, diameter, shank)
    assert bend(rod, rod, diameter, diameter) == pytest.approx(expected)
    half = replace(made, reach=reach / 2, flute_length=flutes / 2)
    assert (slenderness(made) / slenderness(half)) ** 3 == pytest.approx(8.0)


def test_a_plain_cutter_and_a_necked_one():
    assert slenderness(cutter(reach=45.0)) == pytest.approx(7.5)
    necked = cutter(diameter=3.0, shank=6.0, reach=30.0, neck=Neck(diameter=2.8, length=22.0))
    assert slenderness(necked) > slenderness(replace(necked, neck=None, flute_length=10.0))


def test_a_6_mm_cutter_in_resin():
    made = proposed(cutter(), RESIN, machine())
    # A third of the way up 0.06 to 0.15 mm and 0.25 to 0.5 diameters, the middle of 10000 to
    # 16000 rev/min, 35 to 45 % and 20 to 30 % (common practice, no source).
    assert (made.rpm, made.feed, made.plunge) == (13000.0, 1170.0, 290.0)
    assert (made.stepdown, made.stepover) == (2.0, 0.4)
    assert made.proposed == ALL


def test_what_is_stated_is_kept_and_the_rest_fits_it():
    stated = cutter(rpm=10000.0, stepdown=1.0)
    made = proposed(stated, RESIN, machine())
    assert (made.rpm, made.stepdown) == (10000.0, 1.0)
    assert made.feed == 900.0
    slow = proposed(cutter(feed=900.0), RESIN, machine())
    assert slow.rpm == 10000.0 and slow.feed == 900.0


def test_a_feed_over_that_of_the_machine_drops_the_speed_and_not_the_chip():
    # MDF, 6 mm, two flutes: 0.18 mm a tooth at 16000 would be 5760; many frames end near 3000.
    made = proposed(cutter(flutes=2), material_of("mdf"), machine())
    assert made.rpm == 8300.0 and made.feed <= 3000.0
    assert chip_of(made) == pytest.approx(0.18, abs=0.001)
    slowest = proposed(cutter(flutes=2), material_of("mdf"), machine(spindle=(16000.0, 24000.0)))
    assert (slowest.rpm, slowest.feed) == (16000.0, 3000.0)


def test_a_dial_gives_its_steps():
    made = proposed(cutter(), RESIN, machine(dial=(10000.0, 12000.0, 15000.0)))
    assert made.rpm == 12000.0
    assert settable(9000.0, machine(dial=(10000.0, 12000.0))) == 10000.0


def test_a_long_cutter_gets_the_least_of_its_bands():
    made = proposed(cutter(reach=45.0), RESIN, machine())
    assert made.stepdown == 1.5
    assert chip_of(made) == pytest.approx(0.06)


def test_a_chip_rules_the_feed():
    made = proposed(replace(cutter(chip=0.05), proposed=ALL - {"feed"}), RESIN, machine())
    assert made.feed == pytest.approx(made.rpm * 0.05)
    over = cutter(chip=0.2, rpm=20000.0)
    assert proposed(over, RESIN, machine()).feed == 3000.0


def test_a_drill_turns_as_slow_as_it_can():
    made = proposed(cutter(shape=Shape.DRILL, flutes=2, stepdown=5.0), RESIN, machine())
    assert (made.rpm, made.feed, made.plunge, made.stepdown) == (8000.0, 400.0, 400.0, 5.0)
    fine = proposed(cutter(shape=Shape.DRILL, diameter=1.0, flutes=2), RESIN, machine())
    assert fine.plunge == 160.0


def test_faulty_measures_are_left_alone():
    broken = cutter(diameter=math.nan)
    assert proposed(broken, RESIN, machine()) is broken


@given(
    row=st.sampled_from(materials()),
    diameter=st.floats(0.3, 40.0),
    flutes=st.integers(1, 4),
    long=st.floats(1.0, 12.0),
    feed_max=st.floats(200.0, 10000.0),
    low=st.floats(0.0, 12000.0),
    shape=st.sampled_from([Shape.FLAT, Shape.BALL, Shape.VEE, Shape.DRILL]),
)
def test_proposals_keep_to_the_machine(row, diameter, flutes, long, feed_max, low, shape):
    shop = machine(feed_max=feed_max, spindle=(low, 24000.0))
    made = proposed(
        cutter(
            shape=shape, diameter=diameter, shank=diameter, flutes=flutes, reach=diameter * long
        ),
        row,
        shop,
    )
    assert max(low, 1.0) <= made.rpm <= 24000.0
    assert 0.0 < made.plunge <= made.feed <= feed_max
    if shape is not Shape.DRILL:
        assert 0.0 < made.stepdown <= made.flute_length
        assert row.stepover.low - 0.01 <= made.stepover <= row.stepover.high + 0.01
        # Rounding down to 10 mm/min may not take much of the chip.
        size = diameter / 2.0 if shape is Shape.VEE else diameter
        assert chip_of(made) <= row.chip(size).high * (1 + 1e-9)


def test_thin_cutters_rub_later():
    assert np.isclose(least_chip(6.0), 0.025) and np.isclose(least_chip(1.5), 0.0125)

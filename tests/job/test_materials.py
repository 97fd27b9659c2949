import math
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from toolpath.job.materials import DIAMETERS, THICKEST, Band, material_of, materials

ROOT = Path(__file__).parents[2]
CHART = tomllib.loads((ROOT / "shared/cutting-data.toml").read_text())["chart"]
PAGE = (ROOT / "docs/feeds.md").read_text()
ROWS = pytest.mark.parametrize("row", materials(), ids=lambda row: row.name)
FIGURES = ("chip", "turns", "surface", "stepdown", "stepover", "ramp", "plunge")


def test_the_materials_of_the_workshop_are_there():
    assert [row.name for row in materials()] == [
        *("cast resin", "cast acrylic", "extruded acrylic", "ABS", "HDPE", "MDF"),
        *("hardwood", "aluminium"),
    ]


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("casting resin", "cast resin"),
        ("Clear  Epoxy", "cast resin"),
        ("cast-acrylic", "cast acrylic"),
        ("acrylic, cast", "cast acrylic"),
        ("acrylic", "extruded acrylic"),  # the one that melts sooner, where it is not said which
        ("Aluminum", "aluminium"),
        ("Oak", "hardwood"),
    ],
)
def test_words_of_the_maker(words, name):
    assert material_of(words).name == name


@pytest.mark.parametrize("words", ["", "granite", "resin and sand", "castingresin"])
def test_words_that_mean_nothing_here(words):
    assert material_of(words) is None


def test_no_word_means_two_materials():
    words = [word.casefold() for row in materials() for word in (row.name, *row.words)]
    assert len(words) == len(set(words))


@ROWS
def test_every_figure_has_its_source(row):
    assert set(row.sources) == set(FIGURES)
    assert all(len(words) > 3 for words in row.sources.values())


@ROWS
def test_bands_are_bands(row):
    bands = (row.surface, row.stepdown, row.stepover, row.ramp, row.plunge, *row.chips, *row.turns)
    assert all(0.0 < band.low <= band.high for band in bands)
    assert len(row.chips) == len(row.turns) == len(DIAMETERS)


@pytest.mark.parametrize("name", CHART["chips"])
@pytest.mark.parametrize(("place", "diameter"), [(0, 3.175), (1, 6.35)])
def test_chips_are_no_more_than_those_of_the_chart(name, place, diameter):
    # A router chart for stiff machines: ours are for hobby machines, and never above it.
    band, chart = material_of(name).chip(diameter), CHART["chips"][name][place]
    assert band.high <= chart[1] * 1.03
    assert band.low <= chart[0]


def test_chips_by_the_diameter():
    resin = material_of("casting resin")
    assert resin.chip(3.0) == Band(low=0.03, high=0.07)
    assert resin.chip(6.0) == Band(low=0.06, high=0.15)
    assert resin.chip(4.5).high == pytest.approx(0.11)
    assert resin.chip(1.5).low == pytest.approx(0.015)
    assert resin.chip(12.0).high == pytest.approx(0.27)
    assert resin.chip(25.0) == resin.chip(THICKEST)


def test_turns_by_the_diameter():
    resin = material_of("casting resin")
    assert resin.speed(6.0) == Band(low=10000.0, high=16000.0)
    assert resin.speed(1.0) == resin.speed(3.0)
    assert resin.speed(16.0).high == pytest.approx(6000.0)


@given(diameter=st.floats(0.2, 40.0), row=st.sampled_from(materials()))
def test_thicker_cutters_take_more_and_turn_no_faster(diameter, row):
    thin, thick = row.chip(diameter), row.chip(diameter * 1.1)
    assert thick.high >= thin.high * (1 - 1e-12) and thick.low >= thin.low * (1 - 1e-12)
    assert row.speed(diameter * 1.1).high <= row.speed(diameter).high * (1 + 1e-12)


def spans(bands, scale=1.0):
    return ", ".join(f"{b.low * scale:g} to {b.high * scale:g}" for b in bands)


@ROWS
def test_the_page_has_every_row(row):
    chips = " | ".join(spans([band]) for band in row.chips)
    turns = " | ".join(spans([band]) for band in row.turns)
    ramp = spans([Band(low=math.degrees(row.ramp.low), high=math.degrees(row.ramp.high))])
    rest = " | ".join(
        [
            spans([row.surface]),
            spans([row.stepdown]),
            spans([row.stepover], 100),
            ramp,
            spans([row.plunge], 100),
        ]
    )
    assert f"| {row.name} | {chips} |" in PAGE
    assert f"| {row.name} | {turns} |" in PAGE
    assert f"| {row.name} | {rest} |" in PAGE
    for words in row.words:
        assert f'"{words}"' in PAGE
    for source in row.sources.values():
        assert source in PAGE

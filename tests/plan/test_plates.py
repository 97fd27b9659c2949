from dataclasses import replace

import numpy as np
import pytest
import shapely
from ledges import fit_of, job_at_random, with_possible_screws

from toolpath.blank.frames import bounds_of
from toolpath.drawing.outline import Err
from toolpath.drawing.shapes import polygon, rect
from toolpath.errors import FaultsError
from toolpath.job.model import (
    Drill,
    Ledge,
    Pins,
    Plate,
    ProfileSide,
    Screws,
    Sheet,
    Side,
    Tabs,
    TurnOver,
    Zero,
)
from toolpath.plan.plates import (
    Placing,
    placing_of,
    plate_jobs,
    with_fitted_ledges,
    with_plates,
)
from toolpath.plan.screws import screw_places
from toolpath.plan.seat import fitted_ledge, seat_of

ELL = polygon([(0, 0), (80, 0), (80, 30), (30, 30), (30, 70), (0, 70)])
TABS = Tabs(count=3, width=5.0, height=1.0)


@pytest.fixture
def plated(shop):
    """A job with one plate, whose cut stands first."""

    def make(outline=ELL, cavity=None, *, face=Side.FRONT, turn_over=None, **given):
        cut = shop.pocket(cavity or rect(10, 10, 20, 60), depth=20.0, face=face)
        screws = Screws(
            diameter=3.0,
            pilot=shop.cutter(diameter=2.4, name="pilot"),
            depth=8.0,
            edge=3.0,
            slack=0.4,
            count=3,
        )
        plate = {
            "cut": replace(cut, ledge=Ledge(outline=(outline,), depth=3.0)),
            "gap": 0.25,
            "cutter": shop.cutter(diameter=3.0, name="plate"),
            "sheet": Sheet(size=(100.0, 90.0), thickness=3.1, material="acrylic"),
            "tabs": TABS,
            "screws": screws,
        } | given
        job = shop.job(plate["cut"], shop.drill((90, 90), face=face))
        blank = replace(job.blank, turn_over=turn_over or TurnOver.LEFT_RIGHT)
        return replace(job, blank=blank, plates=(Plate(**plate),))

    return make


@pytest.mark.parametrize("seed", range(12))
def test_a_plate_from_emitted_text_lies_evenly_in_its_ledge(seed):
    # The 200 of `benchmarks/plates.py` begin with these.
    job = with_possible_screws(job_at_random(seed))
    fit = fit_of(job)
    assert fit.good(job.plates[0].gap), fit


def test_the_fit_sees_a_plate_that_is_off():
    job = job_at_random(3)
    gap = job.plates[0].gap
    fit = fit_of(job)
    assert not fit.good(gap + 0.03)
    assert not fit.good(gap - 0.03)
    assert not replace(fit, screws=0.02).good(gap)
    assert not replace(fit, overlap=0.01).good(gap)


def test_the_job_of_a_plate_is_its_sheet_and_its_two_cuts(plated):
    job = replace(plated(), pins=Pins(diameter=6.0, at=((0, 50), (0, -50)), mark=(0, 90)))
    derived = plate_jobs(job)[0]
    assert derived.name == "wall clock: plate for cavity"
    assert bounds_of(derived.blank.outline) == ((0.0, 0.0), (100.0, 90.0))
    assert (derived.blank.thickness, derived.blank.material) == (3.1, "acrylic")
    assert derived.blank.thickness_within == 0.0
    assert derived.zero[Side.FRONT] is Zero.LOWER_LEFT
    assert (derived.pieces, derived.clamps, derived.plates, derived.pins) == ((), (), (), None)
    assert (derived.machine, derived.check, derived.unit) == (job.machine, job.check, job.unit)
    holes, outline = derived.cuts
    assert (holes.name, outline.name) == ("screw holes", "outline")
    assert holes.face is outline.face is Side.FRONT
    assert holes.diameter == pytest.approx(3.4)
    assert holes.through
    assert outline.through
    # Sheet of 3.1 and half a millimetre of spoilboard.
    assert holes.depth == outline.depth == pytest.approx(3.6)
    assert outline.side is ProfileSide.OUTER
    assert outline.tabs == TABS


def test_a_skin_stays_under_a_plate_without_tabs(plated):
    job = plated(tabs=None, skin=0.4)
    outline = plate_jobs(job)[0].cuts[-1]
    assert outline.depth == pytest.approx(2.7)
    assert not outline.through


def test_a_plate_without_screws_is_its_outline_alone(plated):
    job = plated(screws=None)
    assert [cut.name for cut in plate_jobs(job)[0].cuts] == ["outline"]
    assert [cut.name for cut in with_plates(job).cuts] == ["cavity", "holes"]


def test_pilots_come_right_after_their_cut(plated):
    job = with_plates(plated())
    assert [cut.name for cut in job.cuts] == ["cavity", "cavity pilots", "holes"]
    drilled = job.cuts[1]
    assert isinstance(drilled, Drill)
    assert drilled.at == screw_places(job, job.plates[0])
    assert len(drilled.at) == 3


def test_the_plate_is_the_same_from_the_job_as_read_and_as_fitted(plated, shop):
    job = plated(cutter=shop.cutter(diameter=5.0, name="plate"), screws=None)
    fitted = with_plates(job)
    (one,), (other,) = (plate_jobs(each)[0].cuts for each in (job, fitted))
    assert np.array_equal(one.outline[0].outer.points, other.outline[0].outer.points)


def test_fitting_rounds_the_ledge_of_the_cut_and_says_so(plated):
    job = plated()
    fitted = with_fitted_ledges(job)
    assert fitted.cuts[0].ledge.outline is not job.cuts[0].ledge.outline
    assert fitted.plates[0].cut is fitted.cuts[0]
    assert fitted.cuts[0].ledge == fitted_ledge(job.plates[0])
    (warned,) = fitted.warnings
    assert warned.where == 'plate[1] "cavity"'
    # (1.5 - 0.25 + 0.01) (1 - 1 / sqrt 2) = 0.369 at the corner of 30, 30.
    assert "x 30.3" in warned.message
    assert "(up to 0.37 mm more is cut away)" in warned.message
    assert with_fitted_ledges(fitted).warnings == fitted.warnings


def test_fitting_leaves_plain_ledges_and_other_cuts_alone(plated):
    job = plated(rect(0, 0, 60, 70))
    fitted = with_fitted_ledges(job)
    assert fitted.cuts == job.cuts
    assert fitted.warnings == ()
    assert fitted.cuts[0].ledge is job.cuts[0].ledge


@pytest.mark.parametrize(
    ("face", "turn_over", "scale"),
    [
        (Side.FRONT, TurnOver.LEFT_RIGHT, (1, 1)),
        (Side.FRONT, TurnOver.TOP_BOTTOM, (1, 1)),
        (Side.BACK, TurnOver.LEFT_RIGHT, (-1, 1)),
        (Side.BACK, TurnOver.TOP_BOTTOM, (1, -1)),
    ],
)
def test_a_plate_lies_on_its_sheet_as_it_is_seen(plated, face, turn_over, scale):
    job = plated(face=face, turn_over=turn_over)
    plate = job.plates[0]
    outline = plate_jobs(job)[0].cuts[-1].outline[0]
    # The contract: seen from the back x' = xmax - x (left-right) or y' = ymax - y (top-bottom).
    seen = shapely.affinity.scale(seat_of(plate).plate, *scale, origin=(0, 0))
    # The lane of the cutter, 3 mm, and 3 mm beside it.
    at = shapely.affinity.translate(seen, 6 - seen.bounds[0], 6 - seen.bounds[1])
    assert shapely.hausdorff_distance(outline.polygon(1e-4, Err.INWARD), at) < 0.005
    assert outline.outer.area > 0


def test_holes_lie_where_the_pilots_do_when_the_plate_is_laid_in(plated):
    job = plated(face=Side.BACK, turn_over=TurnOver.TOP_BOTTOM)
    placing = placing_of(job, job.plates[0])
    holes = plate_jobs(job)[0].cuts[0]
    wanted = placing.spots(np.array(screw_places(job, job.plates[0])))
    assert np.array(holes.at) == pytest.approx(wanted)


def test_placing_keeps_arcs_true_when_it_mirrors():
    placing = Placing(scale=np.array([-1.0, 1.0]), shift=np.array([100.0, 0.0]))
    placed = placing.region(rect(0, 0, 40, 30, 8))
    assert placed.area == pytest.approx(rect(0, 0, 40, 30, 8).area)
    assert np.array(bounds_of(placed)) == pytest.approx(np.array([(60, 0), (100, 30)]))


def test_a_sheet_too_small_says_what_it_takes(plated):
    job = plated(sheet=Sheet(size=(91.4, 90.0), thickness=3.0))
    # Plate 79.5 by 69.5, 6 mm all round.
    with pytest.raises(FaultsError) as error:
        plate_jobs(job)[0]
    text = str(error.value)
    assert text.startswith('job.toml: plate[1] "cavity": stock: size: a sheet of 91.4 mm by 90 mm')
    assert "the plate is 79.5 mm by 69.5 mm" in text
    assert "it takes 91.5 mm by 81.5 mm: take a larger one" in text


def test_a_sheet_that_only_lies_the_wrong_way_says_so(plated):
    job = plated(sheet=Sheet(size=(85.0, 100.0), thickness=3.0))
    with pytest.raises(FaultsError, match="swap its two numbers"):
        plate_jobs(job)[0]


def test_every_impossible_plate_is_named_at_once(plated, shop):
    job = plated()
    other = replace(job.plates[0].cut, name="battery", islands=(rect(12, 12, 18, 18),))
    second = replace(job.plates[0], cut=other)
    first = replace(job.plates[0], screws=replace(job.plates[0].screws, edge=30.0))
    both = replace(job, plates=(first, second))
    with pytest.raises(FaultsError) as error:
        plate_jobs(both)
    assert [fault.where for fault in error.value.faults] == [
        'plate[1] "cavity"',
        'plate[2] "battery"',
    ]
    with pytest.raises(FaultsError, match=r"plate\[2\] \"battery\": what is left standing"):
        with_plates(both)


def test_plate_jobs_come_in_order(plated):
    job = plated()
    names = [each.name for each in plate_jobs(job)]
    assert names == ["wall clock: plate for cavity"]

import math
from dataclasses import replace

import pytest

from toolpath.blank.found import first_face, found_job, job_of_face
from toolpath.blank.frames import Frame, bounds_of
from toolpath.drawing.outline import Region
from toolpath.drawing.shapes import circle, rect
from toolpath.job.model import Measured, Pocket, Side, Zero

FOUND = Measured(size=(121.0, 79.0), thickness=24.0)


def with_blank(job, outline: Region, zero=Zero.LOWER_LEFT):
    made = job(zero=zero, measured=FOUND)
    blank = replace(made.blank, outline=outline, thickness=25.0, thickness_within=0.5)
    return replace(made, blank=blank)


@pytest.mark.parametrize(
    ("zero", "box"),
    [
        (Zero.LOWER_LEFT, ((10.0, 20.0), (131.0, 99.0))),
        (Zero.UPPER_RIGHT, ((9.0, 21.0), (130.0, 100.0))),
        (Zero.CENTRE, ((9.5, 20.5), (130.5, 99.5))),
    ],
)
def test_the_blank_grows_from_where_the_first_face_has_its_zero(job, zero, box):
    found = found_job(with_blank(job, rect(10, 20, 130, 100), zero))
    assert bounds_of(found.blank.outline) == (pytest.approx(box[0]), pytest.approx(box[1]))
    assert (found.blank.thickness, found.blank.thickness_within) == (24.0, 0.0)


def test_a_feature_of_the_back_is_found_from_the_real_edge(job):
    # The drawing's x = 40 lies 30 from the left edge. Turned left to right on a blank of 121 it
    # is 121 - 30 = 91 from the edge that is then the left one (common practice, no source).
    found = job_of_face(with_blank(job, rect(10, 20, 130, 100)), Side.BACK)
    x, y = Frame.of(found, Side.BACK).xy_to_program([[40.0, 50.0]])[0]
    assert (x, y) == (pytest.approx(91.0), pytest.approx(30.0))


def test_the_first_face_stays_as_drawn(job):
    whole = with_blank(job, rect(10, 20, 130, 100))
    assert first_face(whole) is Side.FRONT
    assert job_of_face(whole, Side.FRONT) is whole
    assert job_of_face(whole, Side.BACK) is job_of_face(whole, Side.BACK) is not whole
    assert job_of_face(replace(whole, measured=None), Side.BACK).blank.thickness == 25.0


def test_round_blanks_keep_their_arcs_where_they_stay_round(job):
    whole = with_blank(job, circle(50, 50, 40))
    found = found_job(replace(whole, measured=Measured(size=(82.0, 82.0), thickness=24.0)))
    # Area of a circle: pi r^2.
    assert found.blank.outline.area == pytest.approx(math.pi * 41.0**2, rel=1e-9)
    oval = found_job(replace(whole, measured=Measured(size=(82.0, 81.0), thickness=24.0)))
    # Area of an ellipse: pi a b.
    assert oval.blank.outline.area == pytest.approx(math.pi * 41.0 * 40.5, rel=1e-3)
    low, high = bounds_of(oval.blank.outline)
    assert (high[0] - low[0], high[1] - low[1]) == (pytest.approx(82.0), pytest.approx(81.0))


def test_through_cuts_follow_the_thickness(job, cutter):
    common = {"face": Side.FRONT, "cutter": cutter(), "outline": (rect(5, 5, 50, 50),)}
    through = Pocket(name="through", depth=26.0, through=True, **common)
    blind = Pocket(name="blind", depth=8.0, **common)
    whole = replace(with_blank(job, rect(0, 0, 120, 80)), cuts=(through, blind))
    # 25 + 0.5 within + 0.5 into the board becomes 24 + 0.5.
    assert [cut.depth for cut in found_job(whole).cuts] == [24.5, 8.0]

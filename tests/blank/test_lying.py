"""How the blank lies: sums that anybody can do (thickness less what was skimmed)."""

from dataclasses import replace

import numpy as np
import pytest

from toolpath.blank.found import found_job
from toolpath.blank.lying import lost_below, new_face, thickness_up, thinnest_up, underside
from toolpath.drawing.shapes import rect
from toolpath.job.model import Measured, Side, Skim, Surface

SPOTS = np.array([(0.0, 0.0), (60.0, 40.0), (120.0, 80.0)])


@pytest.fixture
def skimmed(job, cutter):
    """A blank of 24 mm, 0.2 mm more or less, with skims: (face, depth) in cutting order."""

    def made(*skims, **changes):
        cuts = tuple(
            Skim(
                name=f"skim {n}",
                face=face,
                cutter=cutter(),
                depth=depth,
                outline=(rect(0, 0, 120, 80),),
            )
            for n, (face, depth) in enumerate(skims)
        )
        plain = job(cuts=cuts)
        blank = replace(plain.blank, thickness=24.0, thickness_within=0.2)
        return replace(plain, blank=blank, **changes)

    return made


def test_the_second_face_finds_a_blank_that_lost_the_skims_of_the_first(skimmed):
    job = skimmed((Side.FRONT, 0.4), (Side.FRONT, 1.0), (Side.BACK, 2.0))
    assert [lost_below(job, side) for side in Side] == [0.0, 1.0]
    assert [thickness_up(job, side) for side in Side] == [24.0, 23.0]
    assert [thinnest_up(job, side) for side in Side] == pytest.approx([23.8, 22.8])
    other = skimmed((Side.BACK, 2.0), (Side.FRONT, 1.0))
    assert [thickness_up(other, side) for side in Side] == [22.0, 24.0]


def test_a_blank_that_was_measured_is_as_thick_as_it_was_measured(skimmed):
    measured = Measured(size=(120.0, 80.0), thickness=22.8)
    job = skimmed((Side.FRONT, 1.0), (Side.BACK, 2.0), measured=measured)
    assert thickness_up(found_job(job), Side.BACK) == pytest.approx(22.8)
    assert thinnest_up(found_job(job), Side.BACK) == pytest.approx(22.8)


def test_both_faces_in_the_end_whichever_comes_first(skimmed):
    job = skimmed((Side.FRONT, 1.0), (Side.BACK, 2.0))
    assert new_face(job, Side.FRONT, SPOTS) == pytest.approx([-1.0] * 3)
    # 24 less 0.2 that it may be thinner, less what the other face loses.
    assert underside(job, Side.BACK, SPOTS) == pytest.approx([-22.8] * 3)
    assert underside(job, Side.FRONT, SPOTS) == pytest.approx([-21.8] * 3)


def test_a_measured_face_counts_where_it_lies_lower_than_its_skim(skimmed):
    # It falls by 1.5 mm along x, from 0.3 above its Z 0 to 1.2 below; the skim reaches 0.1 below.
    corners = ((0.0, 0.0), (120.0, 0.0), (0.0, 80.0), (120.0, 80.0))
    surface = Surface(places=corners, heights=(0.3, -1.2, 0.3, -1.2))
    job = skimmed((Side.FRONT, 0.1), surfaces={Side.FRONT: surface})
    assert new_face(job, Side.FRONT, SPOTS) == pytest.approx([-0.1, -0.45, -1.2])
    assert underside(job, Side.BACK, SPOTS) == pytest.approx([-23.7, -23.35, -22.6])
    # Not skimmed, what stands up above Z 0 counts as Z 0.
    bare = skimmed(surfaces={Side.FRONT: surface})
    assert new_face(bare, Side.FRONT, SPOTS) == pytest.approx([0.0, -0.45, -1.2])

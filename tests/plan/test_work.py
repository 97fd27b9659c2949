import math

import pytest

from toolpath.drawing.shapes import rect
from toolpath.job.model import Side
from toolpath.plan.work import Work, climb_turn


def test_climbing_is_the_other_way_round_on_the_page_of_the_back():
    # Climb milling with M3 keeps the material right of travel (common practice); the page of the
    # back is a mirror image of what is seen on the machine.
    assert climb_turn(Side.FRONT) == 1.0
    assert climb_turn(Side.BACK) == -1.0


def test_a_cutter_at_work(shop):
    cut = shop.pocket(rect(0, 0, 30, 30), face=Side.BACK, stepover=0.4, ramp=3.0)
    work = Work(job=shop.job(cut), cut=cut, cutter=cut.cutter)
    assert (work.radius, work.step, work.turn) == (3.0, pytest.approx(2.4), -1.0)
    assert 0.95 * math.tan(math.radians(3)) < work.slope <= math.tan(math.radians(3))

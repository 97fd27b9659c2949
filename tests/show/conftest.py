"""The scenes of `scenes` as fixtures."""

import pytest
from scenes import FLAT, clock, crowded, whole

from toolpath.job.model import Cutter
from toolpath.show.scene import Scene


@pytest.fixture
def scene() -> Scene:
    return clock()


@pytest.fixture
def refused() -> Scene:
    return clock(refused=True)


@pytest.fixture
def make_clock():
    """Builds the clock with changed parts of the job: make_clock(refused=..., blank=...)."""
    return clock


@pytest.fixture
def crowded_scene() -> Scene:
    return crowded()


@pytest.fixture
def cutter() -> Cutter:
    return FLAT


@pytest.fixture
def whole_scene() -> Scene:
    return whole()

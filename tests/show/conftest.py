"""The scenes of `scenes` as fixtures."""

from dataclasses import replace

import pytest
from scenes import FLAT, clock, crowded, whole

from toolpath.app.draft import draft
from toolpath.app.publish import fresh
from toolpath.job.model import Cutter, Side, Skim
from toolpath.job.read import read_job
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


def _skimmed(scene, depth=1.0, **changes):
    cutter = scene.programs[0].cutter
    outline = (scene.job.blank.outline,)
    skim = Skim(name="skim", face=Side.FRONT, cutter=cutter, depth=depth, outline=outline)
    first, *others = scene.programs
    view = first.cuts[0]
    view = replace(view, planned=replace(view.planned, cut=skim))
    job = replace(scene.job, cuts=(skim, *scene.job.cuts), **changes)
    return replace(scene, job=job, programs=(replace(first, cuts=(view,)), *others))


@pytest.fixture
def skimmed():
    """Builds a scene with its front brought down first: skimmed(scene, depth=..., zero=...)."""
    return _skimmed


BOUNDED = """
name = "engaged"
units = "mm"
[blank]
outline = { rect = [0, 0, 80, 70] }
thickness = 30
material = "casting resin"
[machine]
travel = [600, 400, 90]
feed_max = 3000
spindle = [8000, 24000]
safe_height = 6
[check]
clearance = 1.0
[[cutter]]
name = "flat 6"
shape = "flat"
diameter = 6
flutes = 2
flute_length = 12
reach = 20
rpm = 16000
feed = 1200
plunge = 300
stepdown = 3
stepover = 0.4
[[cut]]
name = "cavity"
face = "FACE"
do = "pocket"
outline = { rect = [15, 15, 60, 50] }
depth = 3
cutter = "flat 6"
engage = 70
"""


@pytest.fixture(scope="session", params=["front", "back"])
def bounded(request, tmp_path_factory):
    """A scene with one bounded cut, and the text of its program."""
    folder = tmp_path_factory.mktemp("engaged")
    (folder / "job.toml").write_text(BOUNDED.replace("FACE", request.param))
    job = read_job(folder / "job.toml")
    with fresh(folder / "out") as made:
        scene = draft(job, made, lambda text: None)
        (program,) = (made.folder / "programs").iterdir()
        text = program.read_text()
    return scene, text

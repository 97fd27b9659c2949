"""Jobs that join a relief or a skimmed face with what stands beside it, from job to text."""

import math

import numpy as np
import pytest
from relief_replay import cutter_text, planned, tips

from toolpath.app.plan import plan
from toolpath.errors import FaultsError

FACE = (
    """
name = "top"
units = "mm"
[blank]
outline = { rect = [0, 0, 80, 60] }
thickness = 20
material = "casting resin"
[machine]
travel = [600, 400, 90]
feed_max = 3000
spindle = [8000, 24000]
safe_height = 6
[check]
clearance = 1.0
"""
    + cutter_text("flat 12", "flat", 12, 1.0)
    + cutter_text("flat 6", "flat", 6, 1.5)
    + """
[[cut]]
name = "top"
face = "front"
do = "face"
depth = 1
cutter = "flat 12"
"""
)
CLAMP = '\n[[clamp]]\nface = "front"\noutline = {{ rect = [{}] }}\nheight = {}\n'


def made(folder, text):
    """What `plan` does with a job, and the texts of its programs."""
    (folder / "job.toml").write_text(text)
    result = plan(folder / "job.toml", folder / "out", pictures=False)
    return result, [p.read_text() for p in sorted((folder / "out" / "programs").glob("*.nc"))]


@pytest.mark.parametrize("height", [10, 0.5])
def test_a_clamp_that_a_skim_would_meet_refuses_it_by_name(tmp_path, height):
    # strokes run out beside the blank by the cutter's radius and more: 82 mm is in their way
    result, texts = made(tmp_path, FACE + CLAMP.format("82, 20, 100, 40", height))
    assert not result.clear and texts == []
    said = [each["message"] for each in result.payload["cuts"][0]["findings"]]
    assert any('clamp "clamp 1": the flutes touch it' in each for each in said)
    assert any(each["mend"] == "move the clamp" for each in result.payload["cuts"][0]["findings"])


def test_a_clamp_further_off_is_kept_clear_of(tmp_path):
    result, texts = made(tmp_path, FACE + CLAMP.format("100, 20, 110, 40", 10))
    assert result.clear
    places = tips(texts[0], 0.2)
    assert math.hypot(100 - places[:, 0].max()) - 6 >= 1.0  # its clearance, beside a radius of 6


COG = """
[[piece]]
name = "cog"
solid = { kind = "cylinder", diameter = 16, height = 3 }
at = [40, 30]
from_front = 5
hardness = "metal"
[[cut]]
name = "hollow"
face = "front"
do = "pocket"
outline = { rect = [20, 15, 60, 45] }
depth = 6
cutter = "flat 6"
if_blocked = "rise"
"""


def test_a_pocket_after_a_skim_rises_over_what_lies_in_it(tmp_path):
    result, (face, pocket) = made(tmp_path, FACE + COG)
    assert result.clear
    assert result.payload["cuts"][1]["uncut_area_mm2"] == 0.0
    assert tips(face, 0.5)[:, 2].min() == pytest.approx(-1.0)
    places = tips(pocket, 0.2)
    over = places[np.hypot(*(places[:, :2] - [40, 30]).T) < 8.0 + 3.0]
    # the flutes keep 1 mm over the cog, whose top lies 5 mm under the face before it was skimmed,
    # and the floor rises no more than 0.3 mm beyond that (docs/job-file.md)
    assert -4.0 <= over[:, 2].min() <= -4.0 + 0.3
    assert places[:, 2].min() == pytest.approx(-6.0)
    first = places[np.isfinite(places).all(axis=1)][:, 2].max()
    assert first <= 0.0


def waves(x, y):
    return 3 + 0.8 * np.sin(x / 2) * np.cos(y / 2)


@pytest.mark.parametrize(("left", "clear"), [(12.5, False), (14.2, False), (20.0, True)])
def test_a_clamp_beside_the_run_off_of_a_relief(tmp_path, left, clear):
    """The relief ends at the edge of the blank, 12 mm; a ball of 3 mm needs 1 mm beside itself."""
    clamp = CLAMP.format(f"{left}, 3, 30, 8", 8)
    cutters = cutter_text("ball 3", "ball", 3)
    result, programs = planned(
        tmp_path, waves, size=12, margin=0.0, cutters=cutters, pieces=clamp,
        cut='cutter = "ball 3"\nfinish = 0.2\n',
    )  # fmt: skip
    assert result.clear is clear
    if not clear:
        said = [each["message"] for each in result.payload["cuts"][0]["findings"]]
        assert programs == [] and any('clamp "clamp 1"' in each for each in said)


def test_a_bound_of_engagement_belongs_to_pockets(tmp_path):
    with pytest.raises(FaultsError, match='engage: belongs to do = "pocket"'):
        planned(tmp_path, waves, size=12, cut='cutter = "ball 6"\nengage = 70\n')

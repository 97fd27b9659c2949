"""Bounded engagement with all that a pocket can have: planned and written as a maker would, found
clear, and the engaged angle of the written programs replayed one after another on a raster."""

import json
from pathlib import Path

import pytest
from engagement import Block, trace

from toolpath.app.plan import plan

HEAD = """
name = "wall clock"
units = "mm"
[blank]
outline = { rect = [0, 0, 90, 70] }
thickness = 42
material = "casting resin"
[machine]
travel = [600, 400, 120]
feed_max = 3000
spindle = [8000, 24000]
safe_height = 6
[check]
clearance = 1.0
"""
CUTTER = """
[[cutter]]
name = "flat {0}"
shape = "flat"
diameter = {0}
flutes = 2
flute_length = 20
shank = {0}
reach = 26
rpm = 16000
feed = 1200
plunge = 300
stepdown = {1}
stepover = 0.4
"""
PEBBLE = """
[[piece]]
name = "pebble"
solid = { kind = "sphere", diameter = 12 }
at = [40, 32]
from_front = 6
drift = { side = 0.5, rise = 0.5 }
"""
COG = PEBBLE.replace('"sphere", diameter = 12', '"box", size = [9, 8, 7]')
POCKET = """
[[cut]]
name = "cavity"
face = "front"
do = "pocket"
outline = { rect = [20, 18, 62, 50] }
engage = 70
"""
ROOMY = POCKET.replace("[20, 18, 62, 50]", "[16, 8, 66, 56]")
ONE, TWO = 'cutter = "flat 6"\n', 'cutter = ["flat 6", "flat 3"]\n'
ISLAND = "islands = [{ circle = [40, 34, 6] }]\n"
FIRST = POCKET.replace("engage = 70", 'depth = 5\ncutter = "flat 6"').replace("cavity", "rim")
CASES = {
    "over-cut": [POCKET, ONE, 'depth = 8\ninside_corners = "over-cut"'],
    "over-cut, finish": [POCKET, TWO, 'depth = 8\nfinish = 0.3\ninside_corners = "over-cut"'],
    "islands, finish": [POCKET, ONE, ISLAND, "depth = 8\nfinish = 0.4\nspring_passes = 1"],
    "below": [FIRST, POCKET, ONE, "below = 5\ndepth = 12"],
    "rise": [PEBBLE, ROOMY, ONE, 'if_blocked = "rise"\ndepth = 8'],
    "pillar": [COG, ROOMY, TWO, 'if_blocked = "pillar"\ndepth = 8'],
    "ledge": [POCKET, ONE, "ledge = { width = 6, depth = 3 }\ndepth = 8"],
    "two cutters": [POCKET, TWO, ISLAND, "depth = 8"],
    "finish_floor": [POCKET, ONE, "depth = 8\nfinish_floor = 0.3"],
    "as deep as the flutes": [POCKET, ONE, ISLAND, "depth = 20\nclear_chips = 0.5"],
}


def replayed(folder: Path, engaged_from: int):
    """The traces of the programs in cutting order, those of engaged cuts alone."""
    data = json.loads((folder / "plan.json").read_text())
    assert data["verdict"] == "clear", [cut.get("refusal") for cut in data["cuts"]]
    block = Block.over(-10, -10, 100, 80)
    for program in data["programs"]:
        radius = float(program["cutter"].split()[1]) / 2.0
        text = (folder / "programs" / Path(program["file"]).name).read_text()
        yield trace(text, radius, block=block)
    assert all(cut["uncut_area_mm2"] < 0.15 for cut in data["cuts"][engaged_from:])


@pytest.mark.parametrize("name", CASES)
def test_the_bound_holds_with_all_that_a_pocket_can_have(tmp_path, name):
    words = CASES[name]
    cutters = CUTTER.format(6, 20) + CUTTER.format(3, 8)
    (tmp_path / "job.toml").write_text(HEAD + cutters + "\n".join(words))
    plan(tmp_path / "job.toml", tmp_path / "out", pictures=False)
    first = int(words[0] is FIRST)
    for met in replayed(tmp_path / "out", first):
        # The plain cut before is no part of the bound: its level lies above.
        met.angle[met.spots[:, 2] > -5.001] *= 1 - first
        assert met.share_within(75.0) >= 0.99
        assert met.worst <= 85.0, met.worst_place()
        assert met.engaged_length > 5.0

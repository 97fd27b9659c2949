"""The exit codes of `keepclear check`, which scripts ask (docs/commands.md, "Exit codes")."""

import pytest

from toolpath.cli.main import main

JOB = """
name = "clock"
units = "mm"
[blank]
outline = { rect = [0, 0, 120, 90] }
thickness = 25
material = "casting resin"
[machine]
travel = [300, 200, 60]
feed_max = 2000
spindle = [8000, 24000]
safe_height = 5
[check]
clearance = 1.0
cell = 0.5
[[cutter]]
name = "flat 6"
shape = "flat"
diameter = 6
flutes = 2
flute_length = 20
reach = 30
rpm = 12000
feed = 1200
plunge = 250
stepdown = 4
stepover = 0.4
[[piece]]
name = "pebble"
solid = { kind = "sphere", diameter = 14 }
at = [85, 45]
from_back = 3
[[cut]]
name = "tray"
face = "front"
do = "pocket"
outline = { rect = [75, 35, 95, 55] }
depth = 6
cutter = "flat 6"
"""


# The pebble's top lies 25 - 3 - 14 = 8 below the front, 1.02 is to be kept: 6.98 is the deepest.
@pytest.mark.parametrize(("depth", "code", "word"), [(6.9, 0, "clear:"), (7.1, 3, "refused:")])
def test_clear_is_0_and_refused_is_3(tmp_path, capsys, depth, code, word) -> None:
    job, program = tmp_path / "clock.toml", tmp_path / "p.nc"
    job.write_text(JOB)
    program.write_text(f"G21 G17 G90 G94 G54\nS12000 M3\nG0 Z5\nX85 Y45\nG1 Z-{depth} F200\nM2\n")
    words = ["check", str(job), str(program), "--face", "front", "--cutter", "flat 6", "--uncut"]
    assert main(words) == code
    assert word in capsys.readouterr().out

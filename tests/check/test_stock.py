import numpy as np
import shapely

from toolpath.check.chords import SAGITTA, chords_of
from toolpath.check.frames import frame_of
from toolpath.check.stock import Stock, sweep, writable
from toolpath.job.model import Side

PATH = ["F600", "G0 X30 Y30 Z5", "G1 Z-4", "X60", "G3 X60 Y50 I0 J10", "G1 X40 Z-8"]


def test_a_fresh_stock_is_the_blank_and_nothing_else(kit):
    # A disc of radius 40 in cells of 0.5: touched cells hold its area and little more.
    stock = Stock.fresh(kit.job((), outline=kit.circle(70.0, 60.0, 40.0)))
    there = np.isfinite(stock.faces[Side.FRONT].upper)
    area = there.sum() * 0.25
    assert np.pi * 1600 <= area <= np.pi * 1600 + np.pi * 80 * 0.71 + 1
    assert not there[0, 0]
    assert there[80, 80]


def test_chords_stay_with_their_arcs(kit):
    moves = kit.read(*PATH).moves.take(np.arange(1, 5))
    chords = chords_of(moves, kit.cutter())
    arc = chords.row == 2
    middle = (chords.start[arc] + chords.end[arc])[:, :2] / 2 - [60.0, 40.0]
    assert (np.hypot(*middle.T) >= 10.0 - SAGITTA).all()
    np.testing.assert_allclose(chords.start[1:], chords.end[:-1], atol=1e-12)


def test_the_two_fields_hold_the_true_cut_between_them(kit):
    job, side = kit.job(()), Side.BACK
    stock, frame = Stock.fresh(job), frame_of(job, side)
    face = writable(stock.faces[side])
    moves = kit.read(*PATH).moves.take(np.arange(1, 4))
    chords = chords_of(moves, kit.cutter())
    sweep(face, stock.grid, chords, frame, job.machine.nut)
    # A flat cutter of radius 3 at -4 all along: the path widened by 3, from the back x = 130 - x'.
    line = shapely.LineString(np.concatenate([chords.start[:1, :2], chords.end[:, :2]]))
    cut = shapely.transform(line, lambda xy: np.array([130.0, 20.0]) + xy * [-1.0, 1.0])
    cut = cut.buffer(3.0, quad_segs=64)
    x, y = stock.grid.centres()
    xx, yy = np.meshgrid(x, y)
    half = 0.25
    cells = shapely.box(xx - half, yy - half, xx + half, yy + half)
    gone, touched = face.upper < -3.9, face.lowest < -3.9
    assert shapely.covers(cut.buffer(0.01), cells[gone]).all()
    assert shapely.intersects(cut, cells)[~touched].sum() == 0
    assert 0 < gone.sum() < touched.sum()


def test_only_flutes_cut(kit):
    # Flutes 6 long and 6 wide, shank 10 wide, nut 22 wide and 10 up, all 12 below the face: nothing
    # is gone further than 3 from the path, and a cell's diagonal.
    job, side = kit.job(()), Side.FRONT
    stock, frame = Stock.fresh(job), frame_of(job, side)
    face = writable(stock.faces[side])
    moves = kit.read("F600", "G0 X30 Y30 Z-12", "G1 X60").moves.take(np.arange(1, 2))
    cutter = kit.cutter(flute_length=6.0, shank=10.0, reach=10.0)
    sweep(face, stock.grid, chords_of(moves, cutter), frame, job.machine.nut)
    x, y = stock.grid.centres()
    aside = np.hypot(np.maximum(np.maximum(40.0 - x, x - 70.0), 0.0)[None, :], (y - 50.0)[:, None])
    beyond = aside > 3.0 + 0.71
    assert (face.upper[beyond] == 0.0).all()
    assert (face.lowest[beyond] == 0.0).all()
    assert face.upper[aside < 2.0].max() == -12.0

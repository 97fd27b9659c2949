"""One small call of every compiled loop through arrays of the kinds that its front hands over."""

import numpy as np

from toolpath.field import kernels
from toolpath.field.carve import Nodes, carve
from toolpath.field.dilate import dilate
from toolpath.field.drop import Dropping, Form
from toolpath.field.grid import Grid
from toolpath.field.profile import Element, Profile
from toolpath.field.sweep import bite, sweep_touched, sweep_whole
from toolpath.plan.near import RIM
from toolpath.rs274.read import read_program
from toolpath.units import Unit

GRID = Grid(x0=0, y0=0, cell=0.5, rows=12, columns=17)
FLAT = Profile(elements=(Element(part_name="flutes", r_low=3, z_low=0, r_high=3, z_high=20),))
PATH = np.array([[0.0, 0.0, -1.0], [3.0, 2.0, -2.0]])
PLACES = np.array([[18.0, 20.0], [21.0, 20.5]])
PROGRAM = "G21 G90\nM3 S9\nG0 X1 Y1 Z1\nG0 X2\nX3\nM2\n"


def _field():
    return np.zeros(GRID.shape, dtype=np.float32)


def _triangles():
    out = np.full(GRID.shape, -np.inf)
    corners = np.zeros((1, 3, 3))
    kernels.top_of_triangles(corners, (0.0, 0.0, 1.0), 1e-9, np.empty((3, 9, 3)), out)


def _tips():
    z, tops, queries = np.zeros((4, 4)), np.zeros((1, 1)), np.zeros((1, 2))
    look, limits = (0.0, np.zeros(3), 1.0), (-np.inf, np.inf)
    kernels.lowest_tips(z, tops, 4, (0.0, 0.0, 0.5), queries, look, limits, np.empty(1))


def _thin():
    keep = np.zeros(2, dtype=np.bool_)
    kernels.thin_over(PATH.copy(), np.full(1, -9.0), 0.01, 0.01, keep)


def _near():
    return np.full((40, 40), 1e6, dtype=np.float32)


def _follow():
    path, angle = np.empty((3, 2)), np.empty(3)
    way = np.array([4.0, 1.0, 0.3, 2.0, 0.8, 4.0, 4.0, 0.2, 1.0, 0.03])
    start = np.array([20.0, 20.0, 0.0])
    kernels.follow_front(_near(), np.ones((40, 40), dtype=np.float32), start, way, RIM, path, angle)


def _engaged():
    kernels.engaged_along(_near(), PLACES, 4.0, 4.0, RIM, np.zeros(2))


def _nodes():
    corners = np.zeros((1, 3, 3))
    kernels.nodes_of_triangles(corners, (0.0, 0.0, 1.0), 1e-9, np.full((2, 2), -np.inf))


def _drop():
    form = Form(flat=0.0, corner=1.0, slope=0.0, radius=1.0)
    Dropping.on(np.zeros((4, 4)), (0.5, 0.5)).tips(np.zeros((1, 2)), form)


def _thread():
    low, must = np.zeros(2), np.zeros(2, dtype=np.int64)
    kernels.thread_through(np.arange(2.0), low, low + 1.0, must, np.empty(2))


def _arcs():
    ends = np.zeros((1, 2)), np.ones((1, 2))
    limits = (1.0, 1e4, 1e-3, 1e-6, 1e9)
    kernels.arcs_through(np.zeros((1, 9)), (0, 1, 4), *ends, limits, np.empty((1, 1, 2)))


def _gaps():
    row, looked = np.zeros(1, dtype=np.intp), np.array([0.001, 0.0, 0.002, 0.1, 0.0, 1e6, 0.0])
    tree = np.zeros((1, 9)), np.array([0, 1], dtype=np.intp), np.zeros((1, 3, 3))
    found = np.ones(1), np.ones(1), np.zeros((1, 3)), row.copy(), row - 1, row.copy()
    room = np.empty((9, kernels.ITEM)), np.empty((9, 3), dtype=np.int64), np.zeros(kernels.SEEN + 6)
    tool = np.ones((1, 6)), np.zeros(5)
    kernels.least_gaps(np.zeros((1, 10)), (row, row), tree, tool, looked, found, room)


CALLS = {
    "dilate_flat": lambda: dilate(_field(), np.zeros((7, 7), dtype=np.float32)),
    "dilate": lambda: dilate(_field(), np.arange(9, dtype=np.float32).reshape(3, 3)),
    "sweep_whole": lambda: sweep_whole(_field(), GRID, PATH[:1], PATH[1:], FLAT),
    "sweep_touched": lambda: sweep_touched(_field(), GRID, PATH[:1], PATH[1:], FLAT),
    "bite": lambda: bite(_field(), GRID, PATH[:1], PATH[1:], FLAT, limit=1.0),
    "sweep_near": lambda: kernels.sweep_near(_near(), PLACES, 7.0),
    "clear_along": lambda: kernels.clear_along(_near(), PLACES, 4.0, 3.5),
    "engaged_along": _engaged,
    "follow_front": _follow,
    "top_of_triangles": _triangles,
    "lowest_tips": _tips,
    "thin_over": _thin,
    "nodes_of_triangles": _nodes,
    "drop_tips": _drop,
    "thread_through": _thread,
    "carve": lambda: carve(
        Nodes.over((0.0, 0.0, 1.0, 1.0), 0.5, 0.0), np.zeros((1, 3)), np.zeros(9), 1.0
    ),
    "arcs_through": _arcs,
    "least_gaps": _gaps,
    "common_lines": lambda: read_program(PROGRAM, unit=Unit.MM),
}
"""Calls by the name of the kernel."""

"""The check's own solids against the planner's height fields, both written from the same words."""

from itertools import product
from pathlib import Path

import numpy as np
import pytest
import trimesh

from toolpath.check.grid import cross_check
from toolpath.check.obstacles import Obstacles
from toolpath.drawing.outline import Loop, Region
from toolpath.job.model import (
    Box,
    Clamp,
    Cylinder,
    Drift,
    Heights,
    Mesh,
    Prism,
    Side,
    Sphere,
    TurnOver,
)


@pytest.mark.parametrize(("side", "turn_over"), list(product(Side, TurnOver)))
def test_both_sides_of_the_house_see_the_same_pieces(kit, side, turn_over):
    rng = np.random.default_rng(8)
    cone = trimesh.creation.cone(radius=7.0, height=9.0, sections=24)
    mesh = Mesh(
        file=Path("cone.stl"),
        vertices=np.array(cone.vertices),
        triangles=np.array(cone.faces, dtype=np.int64),
        tilt=(0.7, -0.4),
    )
    solids = [Box(size=(20.0, 6.0, 5.0)), Cylinder(diameter=9.0, height=6.0), Sphere(diameter=8.0)]
    wedge = Region(outer=Loop(points=np.array([[0.0, 0.0, 0.0], [13.0, 0, 0.4], [4.0, 9.0, -0.2]])))
    x, y = np.meshgrid(np.arange(4.0), np.arange(3.0) * 2.0)
    z = rng.uniform(1.0, 6.0, x.shape)
    tops = Heights(
        file=Path("scan.csv"),
        points=np.column_stack([x.ravel() * 4.0, y.ravel(), z.ravel()]),
        triangles=np.array(
            [[k, k + 1, k + 4] for k in (0, 1, 2, 4, 5, 6)]
            + [[k + 1, k + 5, k + 4] for k in (0, 1, 2, 4, 5, 6)]
        ),
    )
    more = [mesh, Prism(outline=(wedge,), height=4.0), tops]
    for _ in range(3):
        pieces = tuple(
            kit.piece(
                solid,
                at=tuple(rng.uniform((40, 40), (100, 80))),
                name=f"piece {number}",
                turn=rng.uniform(-3, 3),
                measured_from=[Side.FRONT, Side.BACK][rng.integers(2)],
                clearance=[1.0, 1.5][rng.integers(2)],
                drift=Drift(side=0.6, rise=0.4, turn=0.2),
            )
            for number, solid in enumerate([*solids, *more])
        )
        clamp = Clamp(
            name="clamp 1", face=side, outline=(kit.circle(14.0, 60.0, 6.0),), height=15.0
        )
        job = kit.job(pieces, clamps=(clamp,), turn_over=turn_over, within=0.7)
        cross_check(job, side, Obstacles.of(job, side))

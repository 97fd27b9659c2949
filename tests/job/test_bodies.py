"""The nouns of solids: what holds of all of them."""

import dataclasses
import typing

import numpy as np
import pytest

from toolpath.drawing.shapes import rect
from toolpath.job import model
from toolpath.job.bodies import Box, Cylinder, Heights, Mesh, Prism, Solid, Sphere

PYRAMID = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], dtype=float)
SIDES = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
ONE_OF_EACH = [
    Box(size=(1.0, 2.0, 3.0)),
    Cylinder(diameter=2.0, height=1.0),
    Sphere(diameter=2.0),
    Prism(outline=(rect(0, 0, 2, 1),), height=1.0),
    Mesh(file="stone.stl", vertices=PYRAMID, triangles=SIDES),
    Heights(file="bark.csv", points=PYRAMID, triangles=SIDES),
]


def test_here_is_one_of_each() -> None:
    assert {type(each) for each in ONE_OF_EACH} == set(typing.get_args(Solid))


@pytest.mark.parametrize("solid", ONE_OF_EACH, ids=lambda solid: type(solid).__name__)
def test_a_solid_cannot_be_changed_and_is_a_noun_of_the_job(solid) -> None:
    first = dataclasses.fields(solid)[0].name
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(solid, first, None)
    assert getattr(model, type(solid).__name__) is type(solid)
    assert hash(solid) == hash(solid)  # what is worked out for it is kept by it

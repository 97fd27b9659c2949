"""The exact tips beside scipy's grey dilation of a finely sampled surface, which can only lie
lower: by what the surface does between its samples."""

import numpy as np
import pytest
from scipy import ndimage

from toolpath.drawing.ground import Ground
from toolpath.field.drop import Dropping, Form

FORMS = {
    "ball": Form(flat=0.0, corner=1.0, slope=0.0, radius=1.0),
    "flat": Form(flat=1.0, corner=0.0, slope=0.0, radius=1.0),
    "bull": Form(flat=0.6, corner=0.4, slope=0.0, radius=1.0),
    "vee": Form(flat=0.1, corner=0.0, slope=1.7, radius=1.0),
}
FINE = 0.02


def height(form, r):
    off = np.maximum(r - form.flat, 0.0)
    round_ = form.corner - np.sqrt(np.maximum(form.corner**2 - off**2, 0.0))
    up = round_ if form.corner else off * form.slope
    return np.where(r > form.radius + 1e-12, np.inf, up)


@pytest.mark.parametrize("name", FORMS)
def test_tips_are_those_of_grey_dilation(name):
    form = FORMS[name]
    rng = np.random.default_rng(3)
    z = ndimage.gaussian_filter(rng.uniform(-4, 0, (16, 20)), 1.0)
    step = (0.4, 0.3)
    size = (0.4 * 19, 0.3 * 15)
    ground = Ground(z=z, at=(size[0] / 2, size[1] / 2), size=size)
    x, y = np.arange(0, size[0] + 1e-9, FINE), np.arange(0, size[1] + 1e-9, FINE)
    places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    fine = ground.heights(places).reshape(len(y), len(x))
    count = round(form.radius / FINE)
    offsets = np.arange(-count, count + 1) * FINE
    drop = height(form, np.hypot(offsets[:, None], offsets[None, :]))
    structure = np.where(np.isinf(drop), -1e9, -drop)
    dilated = ndimage.grey_dilation(fine, structure=structure, mode="constant", cval=-1e9)
    asked = rng.integers(0, len(places), 1500)
    found = Dropping.on(ground.z, step).tips(places[asked], form)
    over = found - dilated.ravel()[asked]
    steep = np.abs(np.gradient(fine, FINE)[0]).max() + np.abs(np.gradient(fine, FINE)[1]).max()
    assert over.min() >= -1e-7
    assert over.max() <= (steep + form.slope) * FINE
    if form.corner:
        assert over.max() <= FINE**2 / form.corner * (1 + steep**2) + 1e-9


def test_level_slopes_and_steps_are_met_as_geometry_says():
    ball = Form(flat=0.0, corner=3.0, slope=0.0, radius=3.0)
    x = np.tile(np.arange(61) * 0.5, (61, 1))
    slope = Dropping.on(0.75 * x, (0.5, 0.5))
    # a ball on a slope of tangent t: its middle stands R sqrt(1 + t^2) over the plane
    middle = np.array([[15.0, 15.0], [13.3, 17.9]])
    expected = 0.75 * middle[:, 0] + 3.0 * np.sqrt(1 + 0.75**2) - 3.0
    assert slope.tips(middle, ball) == pytest.approx(expected, abs=1e-12)
    step = Dropping.on(np.where(x > 15.0, 2.0, 0.0), (0.5, 0.5))
    # the edge stands at x = 15.5: below it the ball rests on the edge, R - sqrt(R^2 - d^2) under
    assert step.tips(np.array([[14.5, 15.0]]), ball)[0] == pytest.approx(2 - 3 + np.sqrt(8))
    flat = Form(flat=3.0, corner=0.0, slope=0.0, radius=3.0)
    assert step.tips(np.array([[12.0, 15.0], [12.1, 15.0]]), flat) == pytest.approx([0.0, 0.4])


def test_wider_asked_is_never_lower():
    rng = np.random.default_rng(5)
    dropping = Dropping.on(rng.uniform(-2, 0, (30, 30)), (0.2, 0.2))
    form = FORMS["ball"]
    places = rng.uniform(1, 4.8, (200, 2))
    wide = dropping.tips(places, form, aside=0.1)
    angle = rng.uniform(0, 2 * np.pi, 200)
    near = places + 0.1 * np.column_stack([np.cos(angle), np.sin(angle)])
    assert (wide >= dropping.tips(near, form) - 1e-12).all()


def test_what_is_no_grid_is_refused():
    with pytest.raises(ValueError, match="grid"):
        Dropping.on(np.zeros((1, 5)), (1.0, 1.0))

import numpy as np
import pytest

from visualiser.geometry import Rect
from visualiser.photo.linear_light import to_linear
from visualiser.rendering.cast_shadow import cast_shadow
from visualiser.rendering.shading import shadow
from visualiser.survey.main_light import MainLight

RECT, DEPTH = Rect(-220, 1320, 440, 360), 30.0
LIGHT = MainLight(-1.2, 0.3, 0.4, 0.5)


@pytest.mark.parametrize("view", ["oblique", "frontal"])
def test_the_wall_is_dimmed_as_the_shadow_says_where_each_pixel_looks(request, view):
    """Looked up on a grid, against worked out at the very points of the wall."""
    survey = request.getfixturevalue(view)
    pixels = np.full((600, 800, 3), 180, np.uint8)
    cast_shadow(pixels, survey, RECT, DEPTH, LIGHT, 0.2)
    rng = np.random.default_rng(2)
    around = RECT.grown(70)
    x = rng.uniform(around.left_mm, around.right_mm, 4000)
    y = rng.uniform(around.bottom_mm, around.top_mm, 4000)
    at = np.round(survey.to_photo(np.c_[x, y])).astype(int)
    x, y = survey.to_wall(at.astype(float)).T.astype(np.float32)
    away = np.maximum(np.abs(x) - 220, np.abs(y - 1500) - 180)
    outside = away > 3  # the steepest few millimetres lie under the drawn sides
    level = to_linear(np.full((1, 1, 3), 180, np.uint8))[0, 0, 0]
    seen = 1 - to_linear(pixels)[at[:, 1], at[:, 0], 0] / level
    expected = shadow(x, y, RECT, DEPTH, LIGHT, 0.2)
    assert np.abs(seen - expected)[outside].max() < 0.045
    assert np.abs(seen - expected)[outside].mean() < 0.006


def test_a_flat_piece_throws_no_shadow(frontal):
    pixels = np.full((600, 800, 3), 180, np.uint8)
    cast_shadow(pixels, frontal, RECT, 0.0, LIGHT, 0.2)
    assert (pixels == 180).all()


def test_out_of_view_nothing_happens(frontal):
    pixels = np.full((600, 800, 3), 180, np.uint8)
    cast_shadow(pixels, frontal, Rect(9000, 1300, 400, 300), DEPTH, LIGHT, 0.2)
    assert (pixels == 180).all()

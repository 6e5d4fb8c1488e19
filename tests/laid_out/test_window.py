"""What shows in a frame's window."""

import numpy as np
import pytest

from tests.laid_out.drawn_floor import random_art
from visualiser.laid_out.window import shows_nothing


def mirrored_ceiling(rng):
    """Pale, brighter towards a window, with a photo's noise: what a mirror on a floor shows."""
    y, x = np.mgrid[0:300, 0:200] / 300
    light = 205 + 30 * x - 25 * y + 12 * x * y
    image = light[..., None] * [1.0, 0.98, 0.94] + rng.normal(0, 4, (300, 200, 3))
    return np.clip(image, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("seed", range(3))
def test_a_mirror_of_the_ceiling_shows_nothing(seed):
    assert shows_nothing(mirrored_ceiling(np.random.default_rng(seed)))


@pytest.mark.parametrize("seed", range(12))
def test_pictures_show_something(seed):
    assert not shows_nothing(random_art(np.random.default_rng(seed), 200, 300))


def test_one_faint_pencil_line_is_a_picture():
    image = np.full((300, 200, 3), 236, np.uint8)
    image[60:240, 90:96] = 90
    assert not shows_nothing(image)

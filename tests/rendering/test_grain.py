import cv2
import numpy as np
import pytest

from visualiser.photo.linear_light import to_pixels
from visualiser.photo.photo import Photo
from visualiser.rendering.grain import Grain, add_grain, measure_grain
from visualiser.rendering.sight_lines import Region

PATCHES = [Region(20 + 60 * i, 20, 48, 48) for i in range(8)]


def noisy(variance_per_light, blur, level=0.4):
    rng = np.random.default_rng(4)
    noise = cv2.GaussianBlur(rng.standard_normal((120, 520)).astype(np.float32), (0, 0), blur)
    noise /= noise.std()
    light = level + noise * np.sqrt(variance_per_light * level)
    return Photo(to_pixels(np.repeat(light[..., None], 3, axis=2).astype(np.float32)))


@pytest.mark.parametrize("variance", [1e-4, 6e-4])
@pytest.mark.parametrize("blur", [0.5, 0.9])
def test_noise_is_measured(variance, blur):
    grain = measure_grain(noisy(variance, blur), PATCHES)
    assert grain.per_light == pytest.approx(variance, rel=0.3)
    assert grain.blur_px == pytest.approx(blur, abs=0.15)


def test_added_noise_measures_as_what_it_copies():
    grain = Grain(4e-4, 1e-4, 0.7)
    light = np.full((120, 520, 3), 0.4, np.float32)
    add_grain(light, np.ones((120, 520), np.float32), grain, seed=3)
    again = measure_grain(Photo(to_pixels(light)), PATCHES)
    assert again.per_light == pytest.approx(grain.per_light, rel=0.35)
    assert light.mean() == pytest.approx(0.4, abs=0.002)


def test_a_clean_picture_gets_no_noise():
    flat = Photo(np.full((120, 520, 3), 120, np.uint8))
    assert measure_grain(flat, PATCHES).per_light == 0


def test_nothing_is_added_where_nothing_is_drawn():
    light = np.full((40, 40, 3), 0.4, np.float32)
    add_grain(light, np.zeros((40, 40), np.float32), Grain(4e-4), seed=0)
    assert (light == np.float32(0.4)).all()


def test_a_textured_wall_is_not_taken_for_noise():
    """Rough brick around a calm sheet: the noise is the sheet's, far below the brick's texture."""
    rng = np.random.default_rng(5)
    texture = cv2.GaussianBlur(rng.standard_normal((120, 520, 3)).astype(np.float32), (0, 0), 1.0)
    light = 0.2 + 0.1 * texture
    light[:, :160] = 0.7
    light += np.sqrt(2e-4 * np.maximum(light, 0)) * rng.standard_normal((120, 520, 1))
    grain = measure_grain(Photo(to_pixels(light.astype(np.float32))), PATCHES)
    assert grain.per_light == pytest.approx(2e-4, rel=0.35)
    assert grain.chroma_per_light < 2e-5


@pytest.mark.parametrize("paper", [0.7, 0.95])
def test_paper_tells_the_noise_where_all_else_is_brick(paper):
    """Brick varies by a tenth, smoothly: however much there is of it, none of it is noise."""
    rng = np.random.default_rng(6)
    texture = cv2.GaussianBlur(rng.standard_normal((120, 520, 3)).astype(np.float32), (0, 0), 1.5)
    light = 0.2 + 0.2 * texture
    light[:, :70] = paper
    light += np.sqrt(5e-5 * np.maximum(light, 0)) * rng.standard_normal((120, 520, 1))
    grain = measure_grain(Photo(to_pixels(light.astype(np.float32))), PATCHES)
    assert 0 < grain.per_light < 1e-4


def test_brick_alone_tells_no_noise():
    rng = np.random.default_rng(7)
    texture = cv2.GaussianBlur(rng.standard_normal((120, 520, 3)).astype(np.float32), (0, 0), 1.5)
    light = (0.2 + 0.2 * texture).astype(np.float32)
    assert measure_grain(Photo(to_pixels(light)), PATCHES) == Grain()

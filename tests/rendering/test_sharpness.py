"""Closed form: an edge blurred by a Gaussian and the pixel's breadth (variance 1/12), sharpened."""

import cv2
import numpy as np
import pytest

from visualiser.photo.linear_light import encode_srgb, to_levels
from visualiser.photo.photo import Photo
from visualiser.rendering.sharpness import HALO_PX, TYPICAL, _edge, halo_of, measure_sharpness

CORNERS = np.array([[75, 70], [225, 70], [225, 230], [75, 230.0]]) - 0.5
TURN = np.array([[0.995, -0.0998, 15.0], [0.0998, 0.995, -12.0]])


def sheet(sigma, halo, paper=0.75, wall=0.2, noise=0.0, stripe=None):
    """A sheet, turned by 5.7 degrees against the pixels, as a camera shows it: photo, corners."""
    fine = np.full((1200, 1200), wall, np.float32)
    if stripe is not None:
        fine[:, np.arange(1200) // 80 % 2 == 1] = stripe  # 20 px wide
    fine[280:920, 300:900] = paper
    by_four = TURN.copy()
    by_four[:, 2] *= 4
    fine = cv2.warpAffine(fine, by_four, (1200, 1200), borderMode=cv2.BORDER_REPLICATE)
    fine = cv2.GaussianBlur(fine, (0, 0), 4 * sigma)
    small = cv2.resize(fine, (300, 300), interpolation=cv2.INTER_AREA)
    levels = 255 * encode_srgb(small)
    levels += np.random.default_rng(3).normal(0, noise, levels.shape)
    levels += halo * (levels - cv2.GaussianBlur(levels, (0, 0), HALO_PX))
    levels = np.clip(np.rint(levels), 0, 255).astype(np.uint8)
    corners = (CORNERS + 0.5) @ TURN[:, :2].T + TURN[:, 2] - 0.5
    return Photo(np.repeat(levels[..., None], 3, axis=2)), corners


@pytest.mark.parametrize("sigma", [0.5, 0.8, 1.2])
@pytest.mark.parametrize("halo", [0.0, 0.5])
def test_blur_and_sharpening_are_told_apart(sigma, halo):
    found = measure_sharpness(*sheet(sigma, halo))
    assert found.blur_px == pytest.approx(np.hypot(sigma, 12**-0.5), rel=0.1)
    assert found.halo == pytest.approx(halo, abs=0.08 * (1 + sigma))  # the wider, the less it shows


@pytest.mark.parametrize("halo", [0.0, 0.5])
def test_in_a_blurred_photo_the_edge_is_copied_though_its_parts_are_hard_to_tell(halo):
    """A halo narrower than the blur hardly shows: what is drawn must agree all the same."""
    photo, corners = sheet(2.0, halo)
    found = measure_sharpness(photo, corners)
    grid, levels = _edge(found.blur_px, found.halo, 225.0, 124.0)
    _, true = _edge(float(np.hypot(2.0, 12**-0.5)), halo, 225.0, 124.0)
    near = np.interp(np.arange(-8, 8, 0.1), grid, levels)
    at = np.linspace(-6 * np.hypot(2.0, 12**-0.5), 6 * np.hypot(2.0, 12**-0.5), len(true))
    assert np.abs(near - np.interp(np.arange(-8, 8, 0.1), at, true)).max() < 3


@pytest.mark.parametrize("stripe", [0.6, 0.72])
def test_beside_stripes_a_side_is_as_sharp_as_on_a_plain_wall(stripe):
    """Stripes nearly as light as the sheet, next to dark ones."""
    photo, corners = sheet(0.6, 0.3, noise=1.0, stripe=stripe)
    found = measure_sharpness(photo, corners)
    assert found.blur_px == pytest.approx(np.hypot(0.6, 12**-0.5), rel=0.15)
    assert found.halo == pytest.approx(0.3, abs=0.15)


def test_noise_and_a_corner_placed_by_hand_do_not_look_like_blur():
    photo, corners = sheet(0.6, 0.4, wall=0.55, noise=2.5)
    found = measure_sharpness(photo, corners + [[0.8, -0.5], [-0.6, 0.4], [0.5, 0.9], [0, -0.7]])
    assert found.blur_px == pytest.approx(np.hypot(0.6, 12**-0.5), rel=0.15)
    assert found.halo == pytest.approx(0.4, abs=0.2)


def test_a_faint_sheet_in_noise_is_taken_for_about_as_sharp_as_usual():
    found = measure_sharpness(*sheet(0.6, 0.4, wall=0.72, noise=6.0))
    assert found.blur_px == pytest.approx(TYPICAL.blur_px, abs=0.3)
    assert found.halo == pytest.approx(TYPICAL.halo, abs=0.3)


def test_without_a_clear_edge_a_usual_sharpness_is_taken():
    photo = Photo(np.full((300, 300, 3), 128, np.uint8))
    assert measure_sharpness(photo, CORNERS) == TYPICAL


def test_drawn_edges_get_the_halo_and_the_walls_own_texture_is_left():
    rng = np.random.default_rng(1)
    behind = 120 + 10 * rng.standard_normal((60, 80)).astype(np.float32)
    cover = np.zeros((60, 80), np.float32)
    cover[:, 40:] = 1
    mixed = np.where(cover > 0, np.float32(200), behind).astype(np.float32)
    halo = halo_of(mixed, cover, behind)
    assert np.abs(halo[:, :30]).max() < 1e-3
    assert np.abs(halo[:, 50:]).max() < 1e-3
    smooth = np.where(cover > 0, 200.0, 120.0)
    expected = smooth - cv2.GaussianBlur(smooth, (0, 0), HALO_PX)
    assert halo[:, 39].mean() == pytest.approx(expected[0, 39], abs=2)
    assert halo[:, 40].mean() == pytest.approx(expected[0, 40], abs=2)


def test_a_copy_of_the_photos_sheet_is_as_sharp_as_the_sheet():
    """Drawing the scene's light with the measured sharpness gives the camera's own edge."""
    photo, corners = sheet(0.7, 0.5)
    bare, _ = sheet(0.7, 0.0)
    measured = measure_sharpness(photo, corners)
    drawn = bare.pixels[..., 0].astype(np.float32)
    level = float(to_levels(np.float32([0.2]))[0])
    wall = np.full(drawn.shape, level, np.float32)
    copy = drawn + measured.halo * halo_of(drawn, np.ones_like(drawn), wall)
    gap = np.clip(copy, 0, 255) - photo.pixels[..., 0]
    assert np.sqrt((gap**2).mean()) < 1.0

"""Which model a lens needs, on targets whose lens is known because we drew it."""

import numpy as np
import pytest

from visualiser.rectification.camera.lens_calibration import calibrate_lens
from visualiser.rectification.camera.projection import FLIP, CameraState, Lens, rotation_from_vector

WIDTH, HEIGHT = 1280, 960
BOARD = np.array([(x * 30.0, y * 30.0) for x in range(9) for y in range(6)]) - [120, 75]
PLAIN = Lens(1000.0, 646.0, 470.0, -0.12, 0.03)
SKEWED = Lens(800.0, 646.0, 470.0, -0.33, 0.14, -0.03, 0.003, -0.004)
FISHEYE = Lens(560.0, 646.0, 470.0, 0.02, -0.004, fisheye=True)


def views(lens, noise_px=0.1, bow_mm=0.0, count=10, seed=0):
    """Views that between them fill the picture; a board may be bowed, each its own way."""
    rng = np.random.default_rng(seed)
    seen = []
    while len(seen) < count:
        turn = rotation_from_vector(rng.uniform(-0.6, 0.6, 3)) @ FLIP
        far = lens.focal_px * rng.uniform(0.25, 0.45)
        place = far * np.array([*rng.uniform([-0.5, -0.35], [0.5, 0.35]), 1.0])
        bow = rng.normal(0, bow_mm) * (1 - (BOARD[:, 0] / 120) ** 2) if bow_mm else 0.0
        xyz = np.c_[BOARD, np.zeros(len(BOARD)) + bow]
        state = CameraState(turn, place, lens)
        if (state.to_camera(xyz)[:, 2] < 60).any():
            continue
        px = state.project(xyz)[0]
        inside = ((px > 0) & (px < [WIDTH, HEIGHT])).all(axis=1)
        if inside.sum() >= 30:
            noise = rng.normal(0, noise_px, (int(inside.sum()), 2))
            seen.append((BOARD[inside], px[inside] + noise))
    return seen


def worst_px(found, true):
    """Largest difference of two lenses over the picture, one turned to look along the other."""
    x, y = np.meshgrid(np.linspace(60, WIDTH - 60, 9), np.linspace(60, HEIGHT - 60, 7))
    px = np.c_[x.ravel(), y.ravel()]
    rays = true.to_rays(px)
    shift = true.to_rays(np.array([[found.centre_x_px, found.centre_y_px]]))[0]
    # A principal point that is off is made up for by a turn, to first order about both axes.
    turn = rotation_from_vector(np.array([shift[1], -shift[0], 0.0]))
    turned = np.c_[rays, np.ones(len(rays))] @ turn.T
    return np.hypot(*(found.to_pixels(turned[:, :2] / turned[:, 2:]) - px).T).max()


def test_a_fisheye_is_recognised():
    profile = calibrate_lens(views(FISHEYE), WIDTH, HEIGHT)
    assert profile.lens.fisheye
    assert profile.lens.focal_px == pytest.approx(FISHEYE.focal_px, rel=0.003)
    assert worst_px(profile.lens, FISHEYE) < 1.0


def test_a_wide_lens_gets_the_terms_it_needs():
    profile = calibrate_lens(views(SKEWED, count=14), WIDTH, HEIGHT)
    assert profile.lens.p1 != 0 or profile.lens.p2 != 0
    assert profile.lens.focal_px == pytest.approx(SKEWED.focal_px, rel=0.004)
    assert worst_px(profile.lens, SKEWED) < 1.0


@pytest.mark.parametrize("seed", range(3))
def test_a_plain_lens_gets_no_more(seed):
    lens = calibrate_lens(views(PLAIN, seed=seed), WIDTH, HEIGHT).lens
    assert not lens.fisheye
    assert lens.focal_px == pytest.approx(PLAIN.focal_px, rel=0.003)
    assert worst_px(lens, PLAIN) < 1.0


def test_noise_of_finding_points_is_not_taken_for_the_lens_s():
    assert calibrate_lens(views(PLAIN, noise_px=0.3), WIDTH, HEIGHT).left_over_px < 0.1


def test_bowed_targets_leave_something_over():
    """Each target bowed its own way: no lens explains it, and the covariance grows with it."""
    flat = calibrate_lens(views(PLAIN, noise_px=0.1), WIDTH, HEIGHT)
    bowed = calibrate_lens(views(PLAIN, noise_px=0.1, bow_mm=1.5), WIDTH, HEIGHT)
    assert bowed.left_over_px > 0.3 > 3 * flat.left_over_px
    assert np.linalg.slogdet(bowed.covariance)[1] > np.linalg.slogdet(flat.covariance)[1] + 5


def test_bowed_targets_do_not_fool_the_covariance():
    """Chi-square of the focal length over twelve sets of bowed targets: 1 within three errors."""
    off = []
    for seed in range(12):
        profile = calibrate_lens(views(PLAIN, bow_mm=1.5, count=5, seed=seed), WIDTH, HEIGHT)
        sigma = np.sqrt(profile.covariance[0, 0])
        off.append(np.log(profile.lens.focal_px / PLAIN.focal_px) / sigma)
    assert np.mean(np.square(off)) < 1 + 3 * np.sqrt(2 / 12)

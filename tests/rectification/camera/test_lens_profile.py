from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.synthetic.chessboards import (
    OPENCV_SAMPLES,
    mean_errors,
    opencv_boards,
    profile_from,
)
from visualiser.errors import MeasurementError
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.lens_calibration import calibrate_lens
from visualiser.rectification.camera.lens_profile import LensProfile, lens_prior
from visualiser.rectification.camera.projection import FLIP, CameraState, Lens, rotation_from_vector
from visualiser.rectification.camera.terms import ModelTerms

needs_samples = pytest.mark.skipif(
    not (OPENCV_SAMPLES / "left01.jpg").exists(), reason="Debian's opencv-doc is not installed"
)

LENS = Lens(2900.0, 2010.0, 1490.0, 0.05, -0.02)


def views(noise_px, count=7, seed=0):
    rng = np.random.default_rng(seed)
    board = np.array([(x * 30.0, y * 30.0) for x in range(9) for y in range(6)]) - [120, 75]
    out = []
    for _ in range(count):
        turn = rotation_from_vector(rng.uniform(-0.5, 0.5, 3)) @ FLIP
        place = np.array([rng.uniform(-60, 60), rng.uniform(-50, 50), rng.uniform(280, 380)])
        seen = CameraState(turn, place, LENS).project(np.c_[board, np.zeros(len(board))])[0]
        out.append((board, seen + rng.normal(0, noise_px, seen.shape)))
    return out


def deviations(lens):
    return np.array(
        [
            np.log(lens.focal_px / LENS.focal_px),
            lens.k1 - LENS.k1,
            lens.k2 - LENS.k2,
            lens.centre_x_px - LENS.centre_x_px,
            lens.centre_y_px - LENS.centre_y_px,
        ]
    )


def test_exact_views_give_the_lens_back():
    profile = calibrate_lens(views(0.0), 4000, 3000)
    # OpenCV takes single precision in.
    assert np.abs(deviations(profile.lens)[:3]).max() < 1e-4


def test_stated_covariance_covers_the_truth():
    """Validated by sampling, as JCGM 101:2008, clause 8, describes: chi-square of five."""
    distance = []
    for seed in range(12):
        profile = calibrate_lens(views(0.3, seed=seed), 4000, 3000)
        off = deviations(profile.lens)
        distance.append(off @ np.linalg.solve(profile.covariance, off))
    # The mean of twelve chi-squares of five: 5 within three standard errors of 0.91.
    assert 2.2 < np.mean(distance) < 7.8


def test_too_few_views_are_refused():
    with pytest.raises(MeasurementError, match="3 photos"):
        calibrate_lens(views(0.1, count=2), 4000, 3000)


def photo(width, height, focal=2900.0, camera="P1"):
    return Photo(np.zeros((height, width, 3), np.uint8), focal, 0.03, camera)


@pytest.fixture
def profile():
    return LensProfile(
        "P1", 290.0, 400, 300, Lens(291.0, 203.0, 148.0, 0.02), np.eye(5) * 1e-6, 0.2
    )


def test_a_profile_matches_its_camera_zoom_and_size(profile):
    assert profile.matches(photo(400, 300, 290.5))
    assert profile.matches(photo(300, 400, 290.0))
    assert not profile.matches(photo(400, 300, 290.0, camera="P2"))
    assert not profile.matches(photo(400, 300, 580.0))
    assert not profile.matches(photo(800, 600, 290.0))
    assert not replace(profile, camera="").matches(photo(400, 300, 290.0, camera=""))


def test_a_turned_photo_keeps_the_focal_length_and_doubts_the_centre(profile):
    upright = profile.prior(photo(400, 300, 290.0))
    turned = profile.prior(photo(300, 400, 290.0))
    assert upright.lens == profile.lens
    assert (turned.lens.centre_x_px, turned.lens.centre_y_px) == (149.5, 199.5)
    assert turned.lens.focal_px == profile.lens.focal_px
    assert np.sqrt(turned.covariance[3, 3]) == pytest.approx(1.5, abs=0.1)
    assert np.sqrt(turned.covariance[4, 4]) == pytest.approx(3.5, abs=0.1)


def test_an_unknown_camera_is_taken_for_a_phone():
    prior = lens_prior(Photo(np.zeros((300, 400, 3), np.uint8)), ModelTerms())
    assert prior.lens.focal_px == pytest.approx(28 / 43.267 * 500)
    assert prior.covariance[0, 0] == pytest.approx(0.09)


def test_as_much_distortion_is_left_at_the_corners_of_a_longer_lens():
    terms = ModelTerms()

    def at_corner(focal_px):
        prior = lens_prior(Photo(np.zeros((300, 400, 3), np.uint8), focal_px, 0.02), terms)
        off = np.sqrt(prior.covariance[[1, 2], [1, 2]])
        return off * (250 / focal_px) ** np.array([2, 4])

    phone = 28 / 43.267 * 500
    assert at_corner(phone) == pytest.approx([0.0239, 0.0071], rel=0.01)
    assert at_corner(2 * phone) == pytest.approx(at_corner(phone))
    wide = lens_prior(Photo(np.zeros((300, 400, 3), np.uint8), phone / 2, 0.02), terms)
    assert np.sqrt(wide.covariance[1, 1]) == pytest.approx(terms.k1_sigma)


def test_a_stated_angle_of_view_ties_the_focal_length_to_what_bends_the_corners():
    """Lenses drawn at random, whose corners are seen at the stated angle in half of the makes.

    CIPA DCG-001 (from memory): a 35 mm equivalent is that of the angle of view.
    """
    rng, count, tangent = np.random.default_rng(8), 40_000, 43.267 / 2 / 35
    pixels = np.zeros((300, 400, 3), np.uint8)
    prior = lens_prior(Photo(pixels, 250 / tangent, 0.02, focal_35mm=35.0), ModelTerms())
    k1, k2 = np.sqrt(np.diag(prior.covariance)[1:3])[:, None] * rng.normal(size=(2, count))
    corner = tangent * (1 + k1 * tangent**2 + k2 * tangent**4)
    angle = rng.random(count) < 0.5
    focal = np.where(angle, 250 / corner, 250 / tangent) * np.exp(rng.normal(0, 0.02, count))
    drawn = np.cov(np.array([np.log(focal / prior.lens.focal_px), k1, k2]))
    scale = np.sqrt(np.outer(np.diag(drawn), np.diag(drawn)))
    assert prior.covariance[:3, :3] / scale == pytest.approx(drawn / scale, abs=0.03)


def test_a_focal_length_stated_otherwise_is_tied_to_nothing():
    prior = lens_prior(Photo(np.zeros((300, 400, 3), np.uint8), 300.0, 0.02), ModelTerms())
    assert prior.covariance == pytest.approx(np.diag(np.diag(prior.covariance)))


@needs_samples
def test_intrinsics_agree_with_the_published_ones():
    """left_intrinsics.yml beside the pictures: within 3 %."""
    lens = profile_from(opencv_boards("left")).lens
    storage = cv2.FileStorage(str(OPENCV_SAMPLES / "left_intrinsics.yml"), cv2.FILE_STORAGE_READ)
    matrix = storage.getNode("camera_matrix").mat()
    assert lens.focal_px == pytest.approx(matrix[0, 0], rel=0.03)
    assert lens.centre_x_px == pytest.approx(matrix[0, 2], rel=0.03)
    assert lens.centre_y_px == pytest.approx(matrix[1, 2], rel=0.03)


@needs_samples
@pytest.mark.parametrize("side", ["left", "right"])
def test_the_rest_of_a_board_is_predicted_from_two_by_two_squares(side):
    """OpenCV's sample chessboards; the profile comes from the other half of the pictures."""
    boards = opencv_boards(side)
    assert len(boards) >= 12
    profile = profile_from(boards[1::2])
    errors = np.array([mean_errors(board, profile) for board in boards[::2]])
    plain, known, single = errors.mean(axis=0)
    assert known < 0.008
    assert single < 0.5 * plain

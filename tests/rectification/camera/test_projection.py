import cv2
import numpy as np
import pytest

from visualiser.rectification.camera.projection import (
    FLIP,
    CameraState,
    Lens,
    plane_poses,
    rotation_from_vector,
)

LENSES = [
    Lens(2000.0, 990.0, 740.0, 0.05, -0.02),
    Lens(2000.0, 990.0, 740.0, 0.05, -0.02, 0.01, 0.002, -0.003),
    Lens(1500.0, 990.0, 740.0, 0.04, -0.01, 0.003, fisheye=True),
]


@pytest.fixture(params=LENSES, ids=["radial", "tangential", "fisheye"])
def camera(request):
    lens = request.param
    turn = rotation_from_vector(np.array([0.1, 0.2, 0.05])) @ FLIP
    return CameraState(turn, np.array([100.0, 50.0, 3000.0]), lens)


@pytest.fixture
def points():
    return np.random.default_rng(1).normal(0, 800, (6, 3)) * [1, 1, 0.1]


@pytest.mark.parametrize("parameter", range(11))
def test_derivatives_agree_with_central_differences(camera, points, parameter):
    _, by_camera, _ = camera.project(points)
    step = np.zeros(11)
    step[parameter] = 1e-2 if parameter in (3, 4, 5, 9, 10) else 1e-5
    ahead, behind = camera.moved(step).project(points)[0], camera.moved(-step).project(points)[0]
    numeric = (ahead - behind) / (2 * step[parameter])
    assert by_camera[:, :, parameter] == pytest.approx(numeric, rel=1e-6, abs=1e-6)


def test_derivative_by_point_agrees_with_central_differences(camera, points):
    _, _, by_point = camera.project(points)
    for axis in range(3):
        step = np.eye(3)[axis] * 1e-2
        numeric = (camera.project(points + step)[0] - camera.project(points - step)[0]) / 2e-2
        assert by_point[:, :, axis] == pytest.approx(numeric, rel=1e-6, abs=1e-9)


def test_projection_agrees_with_opencv(camera, points):
    """A second method: OpenCV's projectPoints of both models with the same numbers."""
    lens = camera.lens
    matrix = np.array(
        [[lens.focal_px, 0, lens.centre_x_px], [0, lens.focal_px, lens.centre_y_px], [0, 0, 1.0]]
    )
    pose = cv2.Rodrigues(camera.rotation)[0], camera.translation_mm
    if lens.fisheye:
        terms = np.array([lens.k1, lens.k2, lens.k3, 0.0])
        expected = cv2.fisheye.projectPoints(points[:, None], *pose, matrix, terms)[0]
    else:
        terms = np.array([lens.k1, lens.k2, lens.p1, lens.p2, lens.k3])
        expected = cv2.projectPoints(points, *pose, matrix, terms)[0]
    assert camera.project(points)[0] == pytest.approx(expected.reshape(-1, 2), abs=1e-6)


@pytest.mark.parametrize("lens", LENSES, ids=["radial", "tangential", "fisheye"])
def test_pixels_come_back(lens):
    x, y = np.meshgrid(np.linspace(0, 1999, 9), np.linspace(0, 1499, 7))
    pixels = np.c_[x.ravel(), y.ravel()]
    assert lens.to_pixels(lens.to_rays(pixels)) == pytest.approx(pixels, abs=1e-6)


def test_one_of_the_two_poses_is_the_true_one(camera, points):
    flat = points[:4, :2]
    seen = camera.project(np.c_[flat, np.zeros(4)])[0]
    poses = plane_poses(flat, seen, camera.lens)
    assert poses[0].translation_mm == pytest.approx(camera.translation_mm, rel=1e-6)
    assert poses[0].rotation == pytest.approx(camera.rotation, abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_the_change_to_another_camera_leads_there(camera, points, seed):
    rng = np.random.default_rng(seed)
    size = [0.3, 0.3, 0.3, 400, 400, 900, 0.2, 0.05, 0.02, 150, 150]
    other = camera.moved(rng.uniform(-1, 1, 11) * size)
    there = camera.moved(camera.change_to(other))
    assert there.project(points)[0] == pytest.approx(other.project(points)[0], abs=1e-6)

"""What one camera shows otherwise than another, against both cameras' own projections."""

import numpy as np
import pytest

from visualiser.rectification.camera.projection import (
    FLIP,
    CameraState,
    Lens,
    rotation_from_vector,
)
from visualiser.rectification.camera.shown_change import shown_change

CAMERA = CameraState(
    rotation_from_vector(np.array([0.05, 0.2, 0.0])) @ FLIP,
    np.array([-300.0, 100.0, 2500.0]),
    Lens(1046.0, 447.0, 453.0, 0.008),
)
WALL_MM = np.array([[-900, 0, 0], [900, 0, 0], [0, 600, 0], [0, -600, 0], [400, 300, 0.0]])


def misses_px(change, other):
    """How far derivatives with a change lead past what the other camera shows."""
    pixels, by_camera, _ = CAMERA.project(WALL_MM)
    return np.abs(by_camera @ change - (other.project(WALL_MM)[0] - pixels)).max()


def test_derivatives_with_it_show_the_wall_as_the_other_camera_does():
    """Nearly twice the focal length, the axis a quarter of the picture aside."""
    turn = rotation_from_vector(np.array([0.03, 0.08, 0.0])) @ FLIP
    lens = Lens(1903.0, 250.0, 430.0, 0.03)
    far_mm = 2500.0 * 1903 / 1046
    bearing = (CAMERA.project(np.zeros((1, 3)))[0][0] - [250.0, 430.0]) / 1903
    other = CameraState(turn, np.array([*(far_mm * bearing), far_mm]), lens)
    assert misses_px(CAMERA.change_to(other), other) > 15
    assert misses_px(shown_change(CAMERA, other), other) < 1.5


def test_a_small_change_is_the_change_itself():
    step = np.array([1e-4, -2e-4, 1e-4, 0.3, -0.2, 1.0, 1e-3, 1e-4, 0.0, 0.5, -0.3])
    other = CAMERA.moved(step)
    assert shown_change(CAMERA, other) == pytest.approx(step, abs=1e-3, rel=0.05)


def test_where_the_wall_is_behind_one_camera_it_is_the_change_itself():
    behind = CameraState(CAMERA.rotation, np.array([0.0, 0.0, -500.0]), CAMERA.lens)
    assert shown_change(CAMERA, behind) == pytest.approx(CAMERA.change_to(behind))

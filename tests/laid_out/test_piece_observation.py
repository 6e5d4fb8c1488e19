import numpy as np
import pytest

from tests.laid_out.test_box import plane_from_above
from visualiser.laid_out.box import PieceBox
from visualiser.laid_out.piece_observation import SHIFT, PieceObservation, SeenLine
from visualiser.rectification.camera.projection import CameraState
from visualiser.rectification.reference import EdgeSamples

BOX = PieceBox(400.0, 300.0, 30.0, 250.0, -150.0, 2.0)


def observation(plane, box=BOX):
    """See a box's lines exactly where they are."""
    lines = []
    for side, on_front in [(0, True), (1, True), (2, True), (2, False), (3, True), (3, False)]:
        corners = box.corners(box.depth_mm if on_front else 0.0)
        t = np.linspace(0.1, 0.9, 7)[:, None]
        start, end = corners[side], corners[(side + 1) % 4]
        points = plane.project(start + t * (end - start))
        along = points[-1] - points[0]
        normal = np.array([-along[1], along[0]]) / np.hypot(*along)
        samples = EdgeSamples(points, np.tile(normal, (7, 1)), np.full(7, 0.1))
        lines.append(SeenLine(side, on_front, samples, 0.2))
    return PieceObservation(box, tuple(lines))


def test_derivatives_agree_with_differences():
    """Central differences of the residuals, the second method."""
    plane = plane_from_above(1700.0, pitch=25.0)
    camera = CameraState(plane.rotation, plane.translation_mm, plane.lens)
    seen = observation(plane)
    own = np.r_[3.0, -2.0, 0.004, 1.5, -1.0, 2.0, np.full(6, 0.1)]
    made = seen.linearise(camera, own)
    for k in range(SHIFT + 6):
        step = np.zeros(len(own))
        step[k] = 1e-4 if k == 2 else 1e-2
        difference = (
            seen.linearise(camera, own + step).residual
            - seen.linearise(camera, own - step).residual
        ) / (2 * step[k])
        scale = np.abs(difference).max() + 1e-6
        assert made.by_own[:, k] / scale == pytest.approx(difference / scale, abs=2e-2)
    for k in range(11):
        change = np.zeros(11)
        change[k] = [1e-5] * 3 + [1e-2] * 3 + [1e-5] * 3 + [1e-2] * 2 == 0 or 1e-5
        difference = (
            seen.linearise(camera.moved(change), own).residual
            - seen.linearise(camera.moved(-change), own).residual
        ) / (2 * change[k])
        scale = np.abs(difference).max() + 1e-6
        assert made.by_camera[:, k] / scale == pytest.approx(difference / scale, abs=3e-2)


def test_nothing_is_left_over_where_all_is_seen_as_it_is():
    plane = plane_from_above(1700.0, pitch=20.0)
    camera = CameraState(plane.rotation, plane.translation_mm, plane.lens)
    seen = observation(plane)
    assert np.abs(seen.linearise(camera, seen.own_start(camera)).residual).max() < 1e-6


def test_a_size_of_which_one_side_is_hidden_is_not_free():
    plane = plane_from_above()
    whole = observation(plane)
    part = PieceObservation(BOX, tuple(line for line in whole.lines if line.side != 1))
    assert np.isinf(whole.own_sigma[[3, 4]]).all()
    assert np.isfinite(part.own_sigma[3])
    assert np.isinf(part.own_sigma[4])

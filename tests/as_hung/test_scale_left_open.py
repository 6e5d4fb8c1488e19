"""A scale that is left open is settled by the frames' edges, on a scene drawn at a known one."""

from dataclasses import replace

import numpy as np
import pytest

from tests.as_hung.test_check import ERRORS, camera, group, hung, painted
from visualiser.as_hung.identify import inner_rectangles
from visualiser.as_hung.scale import at_best_scale


def taken_too_large(plane, scale, sigma):
    """The same camera believed further off by so much, and how surely."""
    spread = np.sqrt(np.diag(plane.parameter_covariance)).copy()
    spread[5] = sigma * plane.translation_mm[2]
    return replace(
        plane,
        translation_mm=plane.translation_mm * scale,
        parameter_covariance=np.diag(spread**2),
    )


@pytest.fixture(scope="module")
def scene():
    plan = group()
    frames = hung(plan, ERRORS)
    pixels = painted(camera(), frames, [p.artwork for p in plan.pieces])
    return pixels, frames, [inner_rectangles(piece) for piece in plan.pieces]


def sizes_seen(plane, frames):
    """How large frames are seen, across, px."""
    return np.array(
        [np.ptp(plane.project(f.corners_xyz_mm(front=True))[:, 0]) for f in frames],
    )


@pytest.mark.parametrize("scale", [0.97, 1.03])
def test_frames_are_seen_as_large_as_they_were_drawn(scene, scale):
    pixels, frames, insets = scene
    plane = taken_too_large(camera(), scale, 0.015)
    # Located where they are seen, but a moulding aside.
    located = [replace(f, x_mm=f.x_mm * scale + 20.0, y_mm=f.y_mm * scale) for f in frames]
    there, moved = at_best_scale(pixels, plane, located, insets)
    true = sizes_seen(camera(), frames)
    assert np.abs(sizes_seen(plane, located) / true - 1).max() > 0.02
    assert sizes_seen(there, moved) == pytest.approx(true, rel=0.01)
    for frame, seen in zip(frames, moved, strict=True):
        drawn = camera().project(frame.corners_xyz_mm(front=True)).mean(axis=0)
        found = there.project(seen.corners_xyz_mm(front=True)).mean(axis=0)
        assert found == pytest.approx(drawn, abs=1.6)


def test_a_scale_that_is_known_is_left_alone(scene):
    pixels, frames, insets = scene
    plane = camera()
    there, moved = at_best_scale(pixels, plane, frames, insets)
    assert there is plane
    assert moved == frames

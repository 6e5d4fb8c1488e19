"""How one camera differs from another in what it shows of the wall, to first order.

A covariance carries doubts on to the wall by first derivatives. Between two cameras that explain a
photo about as well, focal length and place may differ by half, far beyond where these hold: plain
differences would move the wall by decimetres where both show it within millimetres.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.projection import CAMERA_SIZE, CameraState

Array = NDArray[np.float64]

REACH_MM, ACROSS = 1000.0, 5
"""The wall is compared on a square grid of so many points, so far to either side."""
WIDEST = 1.5
"""Tangent of the angle from the axis beyond which no point is compared."""
FLOORS = np.array([1e-3, 1e-3, 1e-3, 1.0, 1.0, 1.0, 1e-3, 1e-3, 1e-3, 1.0, 1.0])
"""Least that each parameter may give way by, in its own unit."""
LEFT = 1e-4
"""What the derivatives show less clearly than by this share stays as it is."""


def shown_change(camera: CameraState, other: CameraState) -> Array:
    """Find the change (11,) that to first order moves the wall's points as the other camera does.

    Of all that do it is the one nearest to the change that leads to the other camera.
    """
    change = camera.change_to(other)
    along = np.linspace(-REACH_MM, REACH_MM, ACROSS)
    grid = np.stack(np.meshgrid(along, along), axis=-1).reshape(-1, 2)
    points = np.c_[grid, np.zeros(len(grid))]
    points = points[_before(camera, points) & _before(other, points)]
    if len(points) * 2 < CAMERA_SIZE:
        return change
    pixels, by_camera, _ = camera.project(points)
    shown = (other.project(points)[0] - pixels).ravel()
    slope = by_camera.reshape(-1, CAMERA_SIZE)
    scale = np.abs(change) + FLOORS
    missing = shown - slope @ change
    return np.asarray(change + scale * np.linalg.lstsq(slope * scale, missing, rcond=LEFT)[0])


def _before(camera: CameraState, points_mm: Array) -> NDArray[np.bool_]:
    """Whether points (N, 3) lie before the camera and not far aside."""
    x, y, z = camera.to_camera(points_mm).T
    return np.asarray((z > 0) & (np.hypot(x, y) < WIDEST * z))

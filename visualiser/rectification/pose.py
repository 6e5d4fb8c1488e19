"""First guesses: the camera's poses that would show a rectangle as it is seen."""

from __future__ import annotations

import cv2
import numpy as np

from visualiser.geometry import PointsMm, PointsPx
from visualiser.rectification.lens import Lens
from visualiser.rectification.projection import CameraState

FLIP = np.diag([1.0, -1.0, -1.0])
"""Wall axes (y up, z to the viewer) to camera axes (y down, z forward) of a frontal view."""


def plane_poses(points_mm: PointsMm, points_px: PointsPx, lens: Lens) -> list[CameraState]:
    """Both poses from which known wall points are seen so, the better one first.

    A small plane seen nearly head-on has two: tilted one way or the other about equally far.

    References
    ----------
    T. Collins & A. Bartoli, "Infinitesimal plane-based pose estimation", IJCV 109, 2014.
    """
    rays = lens.to_rays(points_px)
    flat = np.c_[np.asarray(points_mm, float), np.zeros(len(points_mm))] @ FLIP
    _, rotations, translations, errors = cv2.solvePnPGeneric(
        np.ascontiguousarray(flat), np.ascontiguousarray(rays), np.eye(3), None,
        flags=cv2.SOLVEPNP_IPPE,
    )  # fmt: skip
    poses = []
    for index in np.argsort(np.ravel(errors)):
        turn = cv2.Rodrigues(rotations[index])[0] @ FLIP
        shift = np.ravel(translations[index])
        if np.isfinite(turn).all() and shift[2] > 0:
            poses.append(CameraState(turn, shift, lens))
    return poses

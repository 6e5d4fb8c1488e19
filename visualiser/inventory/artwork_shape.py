"""True shape of a picture from its four corners in one photo.

References
----------
Z. Zhang, L.-W. He, "Whiteboard scanning and image enhancement", Digital Signal Processing 17(2),
2007, section 3: shape and focal length of a rectangle from one perspective view.
"""

from __future__ import annotations

import math

import cv2
import numpy as np

from visualiser.geometry import Matrix, PointsPx


def aspect_from_perspective(
    corners_px: PointsPx, width_px: int, height_px: int, focal_px: float | None = None
) -> tuple[float, float]:
    """Width over height of a rectangle seen in perspective, and its relative uncertainty.

    The uncertainty carries half a pixel of each corner and, where the focal length is only
    assumed, a fifth of it.
    """
    centre = np.array([(width_px - 1) / 2, (height_px - 1) / 2])
    prior = focal_px or 0.75 * max(width_px, height_px)
    focal_sigma = 0.03 if focal_px else 0.2

    def shape(points: PointsPx, focal: float) -> float:
        h = _unit_square_to(points - centre)
        across, up = h[:, 0], h[:, 1]
        k = np.array([1 / focal, 1 / focal, 1.0])
        return float(np.linalg.norm(k * across) / np.linalg.norm(k * up))

    focal = prior
    if focal_px is None:
        found = _focal_from_perspective(corners_px - centre)
        if found is not None and 0.4 < found / prior < 2.5:
            focal, focal_sigma = found, 0.1
    value = shape(corners_px, focal)
    variance = (math.log(shape(corners_px, focal * (1 + focal_sigma)) / value)) ** 2
    for i in range(8):
        moved = corners_px.copy()
        moved.flat[i] += 0.5
        variance += math.log(shape(moved, focal) / value) ** 2
    return value, math.sqrt(variance)


def _unit_square_to(points: PointsPx) -> Matrix:
    """Homography that takes the unit square (TL, TR, BR, BL) to four points."""
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    return np.asarray(cv2.getPerspectiveTransform(square, points.astype(np.float32)), float)


def _focal_from_perspective(centred_px: PointsPx) -> float | None:
    """Focal length that makes the rectangle's sides square; None when they are near parallel."""
    h = _unit_square_to(centred_px)
    a, b = h[:, 0], h[:, 1]
    if abs(a[2]) < 0.02 or abs(b[2]) < 0.02:  # both must recede clearly, or noise decides
        return None
    squared = -(a[0] * b[0] + a[1] * b[1]) / (a[2] * b[2])
    return math.sqrt(squared) if squared > 0 else None

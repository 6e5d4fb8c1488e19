"""Whether two finds in one photo agree: measured by the one, the other has the size it should."""

from __future__ import annotations

import cv2
import numpy as np

from visualiser.rectification.reference import Reference

SAME_SIZE = 0.05
"""Logarithm by which measured sides may be off. In photographs with several sheets of a kind on one
wall those agree within 0.007 to 0.045 (a corner of a sheet of 80 px is found to about a pixel);
what is none, or hangs elsewhere, is off by 0.15 and more."""


def agree(one: Reference, other: Reference) -> bool:
    """Measure a find by another: whether both give the same scale.

    Parameters
    ----------
    one
        The find to measure by.
    other
        The find to measure; it agrees if it lies in the same plane and is as large as its kind.
    """
    across, down = one.width_mm, one.height_mm
    corners_mm = np.array([[0, 0], [across, 0], [across, down], [0, down]], np.float32)
    to_mm = cv2.getPerspectiveTransform(one.corners_px.astype(np.float32), corners_mm)
    ahead = np.c_[one.corners_px, np.ones(4)] @ to_mm[2]
    there = np.c_[other.corners_px, np.ones(4)] @ to_mm.T
    if (there[:, 2] * ahead[0] <= 0).any():
        return False  # beyond the horizon of its plane
    placed = there[:, :2] / there[:, 2:]
    sides = np.hypot(*(np.roll(placed, -1, axis=0) - placed).T)
    diagonals = np.hypot(*(placed[2:] - placed[:2]).T)
    measured = [sides[[0, 2]].mean(), sides[[1, 3]].mean(), diagonals.mean()]
    wanted = [other.width_mm, other.height_mm, np.hypot(other.width_mm, other.height_mm)]
    return bool(np.abs(np.log(np.array(measured) / wanted)).max() < SAME_SIZE)

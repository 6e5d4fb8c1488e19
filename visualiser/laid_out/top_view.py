"""A photographed plane seen straight-on as a whole: what is looked through for framed pieces."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.as_hung.straight_on import photo_map
from visualiser.geometry import PointsMm, PointsPx
from visualiser.photo.photo import Photo
from visualiser.rectification.plane import WallPlane

STEP_MM = 2.0
"""Finest sampling: a moulding of 10 mm is five samples."""
MOST_SAMPLES = 1.7e6
REACH_MM = 2600.0
"""Pieces further than this from the reference are measured too badly to be of use."""
COARSEST = 4.0
"""What is seen at less than this share of the reference's own resolution is left out."""


@dataclass(frozen=True, slots=True, eq=False)
class TopView:
    """Straight-on picture of a plane at a height.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 sRGB.
    inside
        (H, W) where the photo shows the plane.
    left_mm, top_mm
        Plane mm of the first sample.
    step_mm
        From one sample to the next.
    height_mm
        How far the plane of the samples stands off the floor or wall.
    """

    pixels: NDArray[np.uint8]
    inside: NDArray[np.bool_]
    left_mm: float
    top_mm: float
    step_mm: float
    height_mm: float

    def to_mm(self, points: PointsPx) -> PointsMm:
        """Turn samples (..., 2), y down, into plane mm (..., 2)."""
        return np.asarray([self.left_mm, self.top_mm] + points * [self.step_mm, -self.step_mm])

    def from_mm(self, points_mm: PointsMm) -> PointsPx:
        """Turn plane mm (..., 2) into samples (..., 2)."""
        return np.asarray((points_mm - [self.left_mm, self.top_mm]) / [self.step_mm, -self.step_mm])


def see_from_above(photo: Photo, plane: WallPlane, height_mm: float) -> TopView:
    """Resample all of a photo that shows the plane around its reference.

    Parameters
    ----------
    photo, plane
        The photo, and the plane measured in it.
    height_mm
        How far the samples' plane stands off: about where the fronts of frames are.
    """
    left, bottom, right, top = _bounds(photo, plane)
    area = (right - left) * (top - bottom)
    step = max(STEP_MM, float(np.sqrt(area / MOST_SAMPLES)))
    size = (max(int((right - left) / step), 8), max(int((top - bottom) / step), 8))
    px = photo_map(plane, (left, top), step, size, height_mm)
    inside = (px >= 0).all(axis=2)
    inside &= (px[..., 0] <= photo.width_px - 1) & (px[..., 1] <= photo.height_px - 1)
    middle = np.array([[left + right, bottom + top]]) / 2
    shrink = step / float(plane.mm_per_px(middle)[0])
    source, scale = photo.pixels, 1.0
    if shrink > 1.5:  # several photo pixels to a sample: average them first
        scale = 1.4 / shrink
        size_px = (round(photo.width_px * scale), round(photo.height_px * scale))
        source = np.asarray(cv2.resize(source, size_px, interpolation=cv2.INTER_AREA), np.uint8)
    local = (px + np.float32(0.5)) * np.float32(scale) - np.float32(0.5)
    seen = cv2.remap(
        source, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    even = np.asarray(np.median(seen[inside][::97], axis=0), np.uint8)
    pixels = np.asarray(np.where(inside[..., None], seen, even), np.uint8)
    return TopView(pixels, inside, left, top, step, height_mm)


def _bounds(photo: Photo, plane: WallPlane) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of what the photo shows around the reference, mm."""
    columns, rows = np.linspace(0, photo.width_px - 1, 40), np.linspace(0, photo.height_px - 1, 40)
    grid = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
    rays = np.c_[plane.lens.to_rays(grid), np.ones(len(grid))] @ plane.rotation
    ahead = -rays[:, 2]
    # Beyond the plane's horizon nothing of it is seen.
    seen = ahead > 0.05
    points = plane.to_wall(grid[seen])
    at_reference = float(plane.mm_per_px(np.zeros((1, 2)))[0])
    near = np.asarray((np.abs(points) < REACH_MM).all(axis=1))
    near[near] = plane.mm_per_px(points[near]) < COARSEST * at_reference
    low, high = points[near].min(axis=0), points[near].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])

"""See the wall, or a plane before it, straight-on: where its samples lie in the photo."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.hanging.frame_box import HungFrame
from visualiser.photo.photo import PixelsRgb
from visualiser.rectification.plane import WallPlane

Array = NDArray[np.float32]

COARSE = 8
"""The map is smooth: of so many samples one is computed, the rest are interpolated."""


def photo_map(
    plane: WallPlane,
    first_mm: tuple[float, float],
    step_mm: float,
    size: tuple[int, int],
    height_mm: float,
) -> Array:
    """Photo px (rows, columns, 2) of a grid that runs right and down.

    Parameters
    ----------
    plane
        The wall's plane.
    first_mm, step_mm
        The grid's top-left sample, and how far apart they are.
    size
        Columns and rows.
    height_mm
        How far the grid stands off the wall.
    """
    columns, rows = size
    # One sample beyond the last, so that nothing is carried on past what was computed.
    across, down = (np.arange(0, n + COARSE, COARSE) * step_mm for n in size)
    x, y = np.meshgrid(first_mm[0] + across, first_mm[1] - down)
    px = plane.project(np.c_[x.ravel(), y.ravel(), np.full(x.size, height_mm)])
    coarse = px.astype(np.float32).reshape(*x.shape, 2)
    at_x, at_y = np.meshgrid(*(np.arange(n, dtype=np.float32) / COARSE for n in (columns, rows)))
    found = cv2.remap(coarse, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(found, np.float32)


def straight_on(
    pixels: PixelsRgb, plane: WallPlane, frame: HungFrame, margin_mm: float, step_mm: float
) -> tuple[Array, float]:
    """Sample the neighbourhood in the plane of the front face; also the share inside the photo."""
    diagonal = 0.09 * max(frame.width_mm, frame.height_mm)  # a tilt of 5 degrees swings the corners
    half_w = frame.width_mm / 2 + margin_mm + diagonal
    half_h = frame.height_mm / 2 + margin_mm + diagonal
    across, down = int(half_w / step_mm), int(half_h / step_mm)
    corner = frame.x_mm - across * step_mm, frame.y_mm + down * step_mm
    px = photo_map(plane, corner, step_mm, (2 * across + 1, 2 * down + 1), frame.depth_mm)
    height, width = pixels.shape[:2]
    inside = (px >= 0).all(axis=2) & (px[..., 0] <= width - 1) & (px[..., 1] <= height - 1)
    if not inside.any():
        return np.zeros((*px.shape[:2], 3), np.float32), 0.0
    low = np.maximum(np.floor(px[inside].min(axis=0)).astype(int) - 2, 0)
    high = np.ceil(px[inside].max(axis=0)).astype(int) + 3
    part: NDArray[Any] = pixels[low[1] : high[1], low[0] : high[0]]
    shrink = step_mm / float(plane.mm_per_px(np.array([[frame.x_mm, frame.y_mm]]))[0])
    if shrink > 1.5:  # several photo pixels to a sample: average them first
        part = cv2.GaussianBlur(part, (0, 0), 0.4 * shrink)
    local = px - low.astype(np.float32)
    patch = cv2.remap(
        part, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(patch, np.float32), float(inside.mean())

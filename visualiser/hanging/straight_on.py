"""Where a grid on the wall, or on a plane before it, lies in the photo: to see it straight-on."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.plane import WallPlane

COARSE = 8
"""The map is smooth: of so many samples one is computed, the rest are interpolated."""


def photo_map(
    plane: WallPlane,
    first_mm: tuple[float, float],
    step_mm: float,
    size: tuple[int, int],
    height_mm: float,
) -> NDArray[np.float32]:
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

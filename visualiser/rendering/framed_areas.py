"""Rectangles that hang on a wall: a mat in the wall's own white is a picture's all the same."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]

_RECTANGULAR = 0.8
"""Share of its smallest rectangle that an outline fills: a frame with the shadow at its side."""
_LEAST_PX = 12


def framed_areas(shapes: Mask, x_mm: NDArray[np.float64], y_mm: NDArray[np.float64]) -> Mask:
    """Find the shapes that are rectangles of the wall's plane, with all that they hold.

    Parameters
    ----------
    shapes
        (h, w) what stands apart from the wall's main surface.
    x_mm, y_mm
        (h, w) survey mm of each element.

    Returns
    -------
    (h, w) those rectangles. Leaves, lamps and furniture have other outlines; what the photo's own
    edge cuts off is not judged.
    """
    found = np.zeros(shapes.shape, np.uint8)
    outlines, _ = cv2.findContours(
        shapes.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    last = np.array(shapes.shape[::-1]) - 1
    for outline in outlines:
        at = outline[:, 0]
        if len(at) < 4 * _LEAST_PX or (at <= 0).any() or (at >= last).any():
            continue
        flat = np.stack([x_mm[at[:, 1], at[:, 0]], y_mm[at[:, 1], at[:, 0]]], axis=1)
        flat = (flat - flat.mean(axis=0)).astype(np.float32)
        _, (width, height), _ = cv2.minAreaRect(flat)
        if cv2.contourArea(flat) > _RECTANGULAR * width * height:
            cv2.drawContours(found, [outline], -1, 1, cv2.FILLED)
    return found > 0

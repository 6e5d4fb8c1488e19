"""A photo with outlines and names drawn over it, for a person to confirm what was found."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.photo import PixelsRgb
from visualiser.raster import resized_px

INK, PAPER = (20, 20, 20), (255, 255, 255)
"""Text on its label: contrast 17:1."""
LINE = (0, 120, 212)


def draw_numbers(
    pixels: PixelsRgb, outlines: Sequence[tuple[str, PointsPx]], width_px: int = 1600
) -> NDArray[np.uint8]:
    """Draw named quadrilaterals over a photo.

    Parameters
    ----------
    pixels
        (H, W, 3) the photo.
    outlines
        Names and corners (4, 2) in the photo.
    width_px
        Longest side of the picture; a smaller photo keeps its size.
    """
    scale = min(1.0, width_px / max(pixels.shape[:2]))
    size = (round(pixels.shape[1] * scale), round(pixels.shape[0] * scale))
    drawn = np.ascontiguousarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA))
    thick = max(round(max(size) / 500), 1)
    letters = max(size) / 1400
    for _, corners in outlines:
        at = np.rint(resized_px(corners, scale) * 16).astype(np.int32)
        cv2.polylines(drawn, [at], True, PAPER, thick + 2, cv2.LINE_AA, shift=4)
        cv2.polylines(drawn, [at], True, LINE, thick, cv2.LINE_AA, shift=4)
    for name, corners in outlines:
        (wide, high), _ = cv2.getTextSize(name, cv2.FONT_HERSHEY_SIMPLEX, letters, thick)
        x, y = np.rint(corners.mean(axis=0) * scale - [wide / 2, -high / 2]).astype(int)
        cv2.rectangle(drawn, (x - 6, y + 6), (x + wide + 6, y - high - 6), PAPER, -1)
        cv2.putText(drawn, name, (x, y), cv2.FONT_HERSHEY_SIMPLEX, letters, INK, thick, cv2.LINE_AA)
    return np.asarray(drawn, np.uint8)

"""Read what white looks like in a photo's light off the sheet of paper on the wall."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.linear_light import LUMINANCE_32, LinearRgb, to_linear
from visualiser.photo.photo import Photo
from visualiser.survey.survey import Survey

PAPER_REFLECTANCE = 0.87
"""Office paper: ISO brightness 80 to 90 % is usual. Common practice, no source; ± 0.03."""
CLIPPED = 0.97
"""Linear light from which a channel may have come to its end."""
_PAPER_BAND = 0.12
"""How far, relatively, a sheet's pixels may lie from its tone: thrice the noise of a dim room."""


def paper_white(photo: Photo, survey: Survey) -> NDArray[np.float32] | None:
    """Light that perfect white would show at the sheet; None when the reference is not paper."""
    assert survey.plane is not None
    corners = survey.plane.reference_corners_px
    wall = survey.to_wall(corners)
    if np.linalg.norm(wall[0] - wall[2]) < 130:  # a card: any colour
        return None
    centre = corners.mean(axis=0)
    inner = centre + 0.8 * (corners - centre)
    light = polygon_light(photo, inner)
    if light is None:
        return None
    tone = light @ LUMINANCE_32
    paper = np.median(light[np.abs(tone / _paper_tone(tone) - 1) < _PAPER_BAND], axis=0)
    if (paper > CLIPPED).all():  # the channels' ratio is lost, so the light counts as neutral
        paper = np.full(3, paper.max(), np.float32)
    # Where only some are clipped they are at least this bright, and the others are right.
    if paper.max() > 3.0 * max(paper.min(), 1e-3) or float(paper @ LUMINANCE_32) < 0.02:
        return None  # no light in a home is that coloured: it is not paper
    return np.asarray(paper / PAPER_REFLECTANCE, np.float32)


def _paper_tone(tone: NDArray[np.float32]) -> float:
    """Luminance of the paper, not of what is printed on it: the middle of its brightest crowd.

    The brighter half's own middle lies above the paper by most of the noise's spread; the mean of
    what is near it, taken again around each new mean, comes down to where most of the paper is.
    """
    level = float(np.percentile(tone, 80))
    for _ in range(20):
        before = level
        level = float(tone[np.abs(tone / level - 1) < _PAPER_BAND].mean())
        if abs(level - before) < 1e-4 * level:
            break
    return level


def polygon_light(photo: Photo, points_px: PointsPx) -> LinearRgb | None:
    """Linear light (N, 3) of a polygon's pixels, thinned out when large; None if out of view."""
    low = np.maximum(np.floor(points_px.min(axis=0)).astype(int), 0)
    high = np.minimum(
        np.ceil(points_px.max(axis=0)).astype(int) + 1, [photo.width_px, photo.height_px]
    )
    if (high - low < 3).any():
        return None
    mask = np.zeros((high[1] - low[1], high[0] - low[0]), np.uint8)
    cv2.fillConvexPoly(mask, np.round(points_px - low).astype(np.int32), 1)
    inside = photo.pixels[low[1] : high[1], low[0] : high[0]][mask > 0]
    if len(inside) < 9:
        return None
    inside = inside[:: max(1, len(inside) // 20000)]
    return np.asarray(to_linear(inside[None])[0])

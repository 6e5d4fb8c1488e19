"""Part of a wall seen face on: a picture whose columns and rows are millimetres."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm, Rect
from visualiser.photo.linear_light import decode_srgb
from visualiser.photo.photo import Photo
from visualiser.survey.survey import Survey

_LIGHT = decode_srgb(np.arange(256) / 255).astype(np.float32)
_FLOOR = np.float32(0.02)
"""Added to linear light before the logarithm, so that noise in the dark stays small."""
_CHANNELS = np.array([0.25, 0.6, 0.15], np.float32)
"""Weights of red, green and blue in one light."""
_WARP_SPACING = 16
"""Every so many pixels the way into the photo is worked out; between them it is interpolated."""


@dataclass(frozen=True, slots=True, eq=False)
class FaceOn:
    """Logarithm of linear light (H, W, 3), y down, over a rectangle of the wall.

    Parameters
    ----------
    light
        Natural logarithms; NaN-free, but see ``seen``.
    seen
        (H, W) what of it lies in the photo.
    rect
        Which part of the wall, survey mm.
    mm_per_px
        Scale.
    """

    light: NDArray[np.float32]
    seen: NDArray[np.bool_]
    rect: Rect
    mm_per_px: float

    def to_pixels(self, points_mm: PointsMm) -> NDArray[np.float64]:
        """Survey mm (N, 2) to columns and rows (N, 2)."""
        points = np.asarray(points_mm, float)
        x = (points[:, 0] - self.rect.left_mm) / self.mm_per_px
        y = (self.rect.top_mm - points[:, 1]) / self.mm_per_px
        return np.stack([x, y], axis=1) - 0.5

    @property
    def one_light(self) -> NDArray[np.float32]:
        """Its three channels as one, (H, W)."""
        return np.asarray(self.light @ _CHANNELS, np.float32)

    def covered(self, corners_mm: PointsMm, times: float) -> NDArray[np.bool_]:
        """Tell what an outline (N, 2), made larger or smaller about its middle, covers: (H, W)."""
        middle = corners_mm.mean(axis=0)
        corners = self.to_pixels(middle + times * (corners_mm - middle))
        mask = np.zeros(self.seen.shape, np.uint8)
        cv2.fillPoly(mask, [np.round(corners).astype(np.int32)], 1)
        return mask.astype(bool)

    def to_rect(self, column: float, row: float, width: float, height: float) -> Rect:
        """Survey rectangle of a box of pixels given by its first column and row, and its size."""
        return Rect(
            self.rect.left_mm + column * self.mm_per_px,
            self.rect.top_mm - (row + height) * self.mm_per_px,
            width * self.mm_per_px,
            height * self.mm_per_px,
        )


def face_on(photo: Photo, survey: Survey, rect: Rect, mm_per_px: float) -> FaceOn:
    """Draw a part of the wall face on, in whole pixels: its rectangle is what these cover."""
    width = max(int(rect.width_mm / mm_per_px), 8)
    height = max(int(rect.height_mm / mm_per_px), 8)
    # Turned about, a view is placed by its far sides: they must be where its pixels end.
    across, up = width * mm_per_px, height * mm_per_px
    rect = Rect(rect.left_mm, rect.top_mm - up, across, up)
    columns, rows = (np.linspace(0, n - 1, max(2, -(-n // _WARP_SPACING))) for n in (width, height))
    x = rect.left_mm + (columns + 0.5) * mm_per_px
    y = rect.top_mm - (rows + 0.5) * mm_per_px
    grid = np.stack(np.meshgrid(x, y), axis=-1)
    px = survey.to_photo(grid.reshape(-1, 2)).reshape(*grid.shape).astype(np.float32)
    # The knots are the corners' centres: a warp of the coarse map would misplace them.
    u, v = np.meshgrid(np.arange(width), np.arange(height))
    u = (u * (len(columns) - 1) / (width - 1)).astype(np.float32)
    v = (v * (len(rows) - 1) / (height - 1)).astype(np.float32)
    way = cv2.remap(px, u, v, cv2.INTER_LINEAR)
    # Averaging before the remap keeps grain from folding into the smaller picture.
    shrink = _shrinking(survey, rect, mm_per_px)
    pixels = photo.pixels
    if shrink > 1.5:
        pixels = np.asarray(cv2.blur(pixels, (round(shrink), round(shrink))), np.uint8)
    codes = cv2.remap(pixels, way[..., 0], way[..., 1], cv2.INTER_LINEAR)
    inside = ((way > 1) & (way < [photo.width_px - 2, photo.height_px - 2])).all(axis=2)
    light = np.log(cv2.LUT(codes, _LIGHT) + _FLOOR)
    return FaceOn(np.asarray(light, np.float32), np.asarray(inside), rect, mm_per_px)


def _shrinking(survey: Survey, rect: Rect, mm_per_px: float) -> float:
    """Photo pixels that one pixel of the view covers at its middle."""
    x, y = rect.left_mm + rect.width_mm / 2, rect.bottom_mm + rect.height_mm / 2
    ends = survey.to_photo(np.array([[x, y], [x + mm_per_px, y]]))
    return float(np.hypot(*(ends[1] - ends[0])))

"""Photo pixels in linear light, looked up between pixels."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.linear_light import decoding_16
from visualiser.photo.photo import Photo, PixelsRgb

Array = NDArray[np.float64]

PIECE = 192
"""Rows of a grid that are looked up at once: along an edge, what surrounds so many is small."""


@dataclass(frozen=True, slots=True, eq=False)
class LinearView:
    """Part of a photo, seen in linear light, with the photo position of its first pixel.

    A half-level edge located in gamma-encoded values sits up to half a pixel off on dark walls.
    """

    pixels: PixelsRgb
    origin_px: tuple[int, int]

    @classmethod
    def around(cls, pixels: PixelsRgb, points_px: PointsPx, margin_px: float) -> LinearView:
        """See just the part of a photo that surrounds some points."""
        height, width = pixels.shape[:2]
        low = np.floor(np.min(points_px, axis=0) - margin_px).astype(int)
        high = np.ceil(np.max(points_px, axis=0) + margin_px).astype(int) + 1
        x0, y0 = (int(np.clip(v, 0, n - 1)) for v, n in zip(low, (width, height), strict=True))
        x1, y1 = (int(np.clip(v, 1, n)) for v, n in zip(high, (width, height), strict=True))
        return cls(pixels[y0 : max(y1, y0 + 1), x0 : max(x1, x0 + 1)], (x0, y0))

    @classmethod
    def whole(cls, photo: Photo) -> LinearView:
        """See a whole photo."""
        return cls(photo.pixels, (0, 0))

    def sample(self, points_px: Array) -> NDArray[np.float32]:
        """Bilinear values (..., 3) in 0 to 1 at photo positions (..., 2)."""
        grid = (points_px - self.origin_px).reshape(points_px.shape[0], -1, 2)
        pieces = [self._piece(grid[at : at + PIECE]) for at in range(0, len(grid), PIECE)]
        return np.concatenate(pieces).reshape(*points_px.shape[:-1], 3) / np.float32(65535)

    def _piece(self, grid: Array) -> NDArray[np.float32]:
        """Look up a grid (R, C, 2): only what surrounds it is brought to linear light."""
        size = np.array(self.pixels.shape[1::-1])
        low = np.clip(np.floor(grid.min(axis=(0, 1))).astype(int) - 1, 0, size - 1)
        high = np.clip(np.floor(grid.max(axis=(0, 1))).astype(int) + 3, low + 1, size)
        part = cv2.LUT(self.pixels[low[1] : high[1], low[0] : high[0]], decoding_16())
        local = (grid - low).astype(np.float32)
        found = cv2.remap(
            part, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        return np.asarray(found, np.float32)

    def contains(self, points_px: Array, margin_px: float) -> NDArray[np.bool_]:
        """Which points (N, 2) lie inside, at least a margin from the border."""
        height, width = self.pixels.shape[:2]
        local = points_px - self.origin_px
        inside = (local >= margin_px) & (local <= np.array([width, height]) - 1 - margin_px)
        return np.asarray(inside.all(axis=1))

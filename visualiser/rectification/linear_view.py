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


@dataclass(frozen=True, slots=True, eq=False)
class LinearView:
    """Part of a photo in linear light, with the photo position of its first pixel.

    A half-level edge located in gamma-encoded values sits up to half a pixel off on dark walls.
    """

    values: NDArray[np.uint16]
    origin_px: tuple[int, int]

    @classmethod
    def around(cls, pixels: PixelsRgb, points_px: PointsPx, margin_px: float) -> LinearView:
        """Linearise just the part of a photo that surrounds some points."""
        height, width = pixels.shape[:2]
        low = np.floor(np.min(points_px, axis=0) - margin_px).astype(int)
        high = np.ceil(np.max(points_px, axis=0) + margin_px).astype(int) + 1
        x0, y0 = (int(np.clip(v, 0, n - 1)) for v, n in zip(low, (width, height), strict=True))
        x1, y1 = (int(np.clip(v, 1, n)) for v, n in zip(high, (width, height), strict=True))
        return cls(decoding_16()[pixels[y0 : max(y1, y0 + 1), x0 : max(x1, x0 + 1)]], (x0, y0))

    @classmethod
    def whole(cls, photo: Photo) -> LinearView:
        """Linearise a whole photo."""
        return cls(np.asarray(cv2.LUT(photo.pixels, decoding_16()), np.uint16), (0, 0))

    def sample(self, points_px: Array) -> NDArray[np.float32]:
        """Bilinear values (..., 3) in 0 to 1 at photo positions (..., 2)."""
        local = (points_px - self.origin_px).astype(np.float32)
        grid = local.reshape(local.shape[0], -1, 2)
        values = cv2.remap(
            self.values,
            grid[..., 0],
            grid[..., 1],
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return np.asarray(values, np.float32).reshape(*local.shape[:-1], 3) / np.float32(65535)

    def contains(self, points_px: Array, margin_px: float) -> NDArray[np.bool_]:
        """Which points (N, 2) lie inside, at least a margin from the border."""
        height, width = self.values.shape[:2]
        local = points_px - self.origin_px
        inside = (local >= margin_px) & (local <= np.array([width, height]) - 1 - margin_px)
        return np.asarray(inside.all(axis=1))

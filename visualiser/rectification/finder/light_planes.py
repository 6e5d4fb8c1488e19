"""A photo reduced to what tells a sheet from a wall: lightness and two hues, as logarithms.

In the logarithm of linear light a sheet differs from its wall by the same amount in sun and in
shadow. White paper on white paint differs by one or two per cent in lightness, less than the noise
of a pixel, but by three or more in blue, because paper holds a brightener; so hue gets planes of
its own, and everything is averaged to a working size before anything is decided.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.linear_light import to_linear
from visualiser.photo.photo import PixelsRgb
from visualiser.statistics import MAD_TO_SIGMA

Plane = NDArray[np.float32]

WORKING_SIDE_PX = 1280
"""Longer side of the working picture: a sheet that measures anything is 30 px wide here."""
_FLOOR = 0.04
"""Added to linear light before the logarithm: keeps noise in the dark small, and an edge against
the dark near the middle of its blur."""


@dataclass(frozen=True, slots=True, eq=False)
class LightPlanes:
    """Working planes of one photo.

    Parameters
    ----------
    values
        (H, W, 3) float32: log lightness; log blue over yellow; log red over green.
    scale
        Working px per photo px.
    noise
        (3,) standard deviation of each plane's finest grain.
    """

    values: NDArray[np.float32]
    scale: float
    noise: NDArray[np.float64]

    def to_working(self, points_px: PointsPx) -> PointsPx:
        """Photo px to working px; (0, 0) is a pixel's centre in both."""
        return np.asarray((np.asarray(points_px, float) + 0.5) * self.scale - 0.5)

    def to_photo(self, points_px: PointsPx) -> PointsPx:
        """Working px to photo px."""
        return np.asarray((np.asarray(points_px, float) + 0.5) / self.scale - 0.5)

    def sample(self, points_px: NDArray[np.float64]) -> NDArray[np.float32]:
        """Values (..., 3) at working positions (..., 2), bilinear."""
        shape = points_px.shape[:-1]
        width = int(np.prod(shape[1:])) if len(shape) > 1 else 1
        grid = points_px.reshape(shape[0], width, 2).astype(np.float32)
        values = cv2.remap(
            self.values, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
        )
        return np.asarray(values, np.float32).reshape(*shape, 3)

    def contains(self, points_px: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Which working positions (..., 2) lie in the picture."""
        height, width = self.values.shape[:2]
        return np.asarray(((points_px >= 0) & (points_px <= [width - 1, height - 1])).all(axis=-1))


def light_planes(
    pixels: PixelsRgb, working_side_px: int = WORKING_SIDE_PX, *, white: float = 1.0
) -> LightPlanes:
    """Reduce a photo (H, W, 3) to its working planes.

    Parameters
    ----------
    pixels
        The photo.
    working_side_px
        Longer side of the planes at most.
    white
        Linear light of what is white in it: in a dark picture less noise is to be kept small.
    """
    scale = min(1.0, working_side_px / max(pixels.shape[:2]))
    height, width = (max(round(n * scale), 8) for n in pixels.shape[:2])
    # Averaged as it is encoded: over so few pixels the difference to averaging light is small,
    # and it is twice as fast.
    small = cv2.resize(pixels, (width, height), interpolation=cv2.INTER_AREA)
    linear = cv2.GaussianBlur(to_linear(np.asarray(small, np.uint8)), (0, 0), 0.8)
    red, green, blue = cv2.split(cv2.log(linear + np.float32(_FLOOR * white)))
    values = np.dstack([
        0.3 * red + 0.6 * green + 0.1 * blue,
        blue - 0.5 * (red + green),
        red - green,
    ])  # fmt: skip
    return LightPlanes(np.ascontiguousarray(values, np.float32), scale, _grain(values))


def _grain(values: NDArray[np.float32]) -> NDArray[np.float64]:
    """Deviation of each plane's fine detail (3,), from every other pixel of every other row."""
    fine = (values - cv2.GaussianBlur(values, (0, 0), 2.0))[::2, ::2].reshape(-1, 3)
    middle = [np.median(np.abs(plane)) for plane in np.ascontiguousarray(fine.T)]
    return np.maximum(MAD_TO_SIGMA * np.array(middle, dtype=np.float64), 1e-3)

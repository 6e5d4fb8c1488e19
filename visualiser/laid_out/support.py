"""How well straight edges support rectangles in a top view, and what lies along their sides."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.quadrilaterals import outward_normals, side_runs
from visualiser.statistics import MAD_TO_SIGMA

Array = NDArray[np.float64]
Image = NDArray[np.float32]

POINTS = 48
"""Places along a side at which it is looked at."""
POINTS_BEYOND = 16
"""Places beyond its end."""
SHIFTS = (-1.0, 0.0, 1.0)
"""Samples by which an edge may lie beside where it is looked for."""


class EdgeField:
    """Signed gradients of a top view's Lab channels, levelled off where clear beyond doubt."""

    def __init__(self, lab: NDArray[np.uint8]) -> None:
        self.lab = lab.astype(np.float32)
        smooth = np.asarray(cv2.GaussianBlur(self.lab, (0, 0), 0.9), np.float32)
        self.smooth = smooth
        self.along_x = np.zeros_like(smooth)
        self.along_y = np.zeros_like(smooth)
        self.along_x[:, 1:-1] = smooth[:, 2:] - smooth[:, :-2]
        self.along_y[1:-1] = smooth[2:] - smooth[:-2]
        size = np.abs(self.along_x[::3, ::3]), np.abs(self.along_y[::3, ::3])
        middle = np.median(np.concatenate(size), axis=(0, 1))
        self.doubtful = np.maximum(2 * MAD_TO_SIGMA * middle, 2.5).astype(np.float32)

    def sides(
        self, quads: Array, *, points: int = POINTS, shifts: Sequence[float] = SHIFTS
    ) -> Image:
        """Support along the sides of clockwise rectangles (R, 4, 2): bins (R, 4, 8), 0 to 1."""
        normal = outward_normals(quads).astype(np.float32)
        run = side_runs(quads).astype(np.float32)
        t = ((np.arange(points) + 0.5) / points).astype(np.float32)
        along = quads.astype(np.float32)[:, :, None] + t[:, None] * run[:, :, None]
        return self._along(along, normal, shifts)

    def beyond(self, quads: Array, start: float, end: float) -> Image:
        """Support (R, 4, 2) on the way on from either end of each side, ``start`` to ``end``.

        A piece's edges end at its corners; the joints of tiles and boards run on.
        """
        normal = outward_normals(quads).astype(np.float32)
        run = side_runs(quads).astype(np.float32)
        ahead = run / np.linalg.norm(run, axis=2, keepdims=True)
        far = np.linspace(start, end, POINTS_BEYOND).astype(np.float32)[:, None]
        ends = quads.astype(np.float32), np.roll(quads, -1, axis=1).astype(np.float32)
        seen = [
            self._along(corner[:, :, None] + sign * far * ahead[:, :, None], normal, SHIFTS)
            for corner, sign in zip(ends, (np.float32(-1), np.float32(1)), strict=True)
        ]
        return np.stack([bins.mean(axis=2) for bins in seen], axis=2)

    def _along(self, along: Image, normal: Image, shifts: Sequence[float]) -> Image:
        """Support in eight bins (R, 4, 8) of rows of samples (R, 4, P, 2)."""
        count, points = len(along), along.shape[2]
        best = np.zeros((count, 4, 8), np.float32)
        for shift in shifts:
            at = np.asarray(along + np.float32(shift) * normal[:, :, None], np.float32)
            gx, gy = self.look_up(self.along_x, at), self.look_up(self.along_y, at)
            across = gx * normal[:, :, None, :1] + gy * normal[:, :, None, 1:]
            vote = across / (np.abs(across) + self.doubtful)
            binned = vote.reshape(count, 4, 8, points // 8, 3).mean(axis=3)
            # Coherent: the same sign along the whole side, in the channel that shows it best.
            sign = np.sign(binned.mean(axis=2, keepdims=True))
            coherent = (binned * sign).clip(0, 1)
            channel = coherent.mean(axis=2).argmax(axis=-1)
            shown = np.take_along_axis(coherent, channel[:, :, None, None], axis=3)[..., 0]
            better = shown.mean(axis=2) > best.mean(axis=2)
            best[better] = shown[better]
        return best

    def strips(self, quads: Array, outward: float) -> Image:
        """Lab (R, 4, P, 3) along the sides of rectangles, moved out by so many samples."""
        normal = outward_normals(quads)
        t = (np.arange(POINTS // 2) + 0.5) / (POINTS // 2)
        points = quads[:, :, None] + t[:, None] * side_runs(quads)[:, :, None]
        return self.look_up(
            np.asarray(self.smooth, np.float32), points + outward * normal[:, :, None]
        )

    @staticmethod
    def look_up(image: Image, points: Array | Image) -> Image:
        """Nearest values (..., C) at samples (..., 2)."""
        height, width = image.shape[:2]
        x = np.clip(np.rint(points[..., 0]).astype(np.int32), 0, width - 1)
        y = np.clip(np.rint(points[..., 1]).astype(np.int32), 0, height - 1)
        return np.asarray(
            np.take(image.reshape(height * width, -1), y * width + x, axis=0), np.float32
        )


def widened(quads: Array, offsets: Array) -> Array:
    """Move each side of rectangles (R, 4, 2) out by its own offset (R, 4), in samples."""
    normal = outward_normals(quads)
    previous = np.roll(normal, 1, axis=1)
    back = np.roll(offsets, 1, axis=1)
    return np.asarray(quads + offsets[..., None] * normal + back[..., None] * previous)

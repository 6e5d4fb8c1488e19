"""A printed black-and-white pattern of known geometry, and how a photo would show it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import Rect

Array = NDArray[np.float64]
Grey = NDArray[np.float32]

RASTER_MM = 0.25
"""Pixel of the pattern's own raster. Its modules are whole multiples of it on the target."""


@dataclass(frozen=True, eq=False)
class PrintedPattern:
    """Black shapes on white, in mm, x right, y up, with the origin at the pattern's own centre.

    Parameters
    ----------
    outline
        The part of the plane that is known, white included.
    shapes
        Rectangles to paint one over the other, and whether each is black.
    raster_mm
        Pixel of the pattern's own raster, a whole part of its modules.
    """

    outline: Rect
    shapes: tuple[tuple[Rect, bool], ...]
    raster_mm: float = RASTER_MM

    @cached_property
    def raster(self) -> Grey:
        """The pattern drawn at `raster_mm`: white 1, black 0, top row first."""
        size = (self.outline.height_mm, self.outline.width_mm)
        height, width = (max(1, round(side / self.raster_mm)) for side in size)
        # Drawn finer and averaged: an edge between two pixels of the raster keeps its place.
        fine = 4
        drawn = np.ones((height * fine, width * fine), np.float32)
        step = self.raster_mm / fine
        for rect, black in self.shapes:
            x0, x1 = (
                round((x - self.outline.left_mm) / step) for x in (rect.left_mm, rect.right_mm)
            )
            y0, y1 = (
                round((self.outline.top_mm - y) / step) for y in (rect.top_mm, rect.bottom_mm)
            )
            drawn[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)] = 0.0 if black else 1.0
        shrunk = cv2.resize(drawn, (width, height), interpolation=cv2.INTER_AREA)
        return np.asarray(shrunk, np.float32)

    @property
    def raster_to_mm(self) -> Array:
        """Affine map (3, 3) from the raster's pixels to mm."""
        half = self.raster_mm / 2
        return np.array(
            [
                [self.raster_mm, 0.0, self.outline.left_mm + half],
                [0.0, -self.raster_mm, self.outline.top_mm - half],
                [0.0, 0.0, 1.0],
            ]
        )


def map_points(matrix: Array, points: Array) -> Array:
    """Map points (N, 2) by a homography (3, 3)."""
    mapped = np.c_[points, np.ones(len(points))] @ matrix.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:], np.float64)


def cells_of(pattern: PrintedPattern, count: int) -> list[Rect]:
    """Cut the pattern into nearly square patches, ``count`` along its shorter side."""
    box = pattern.outline
    side = min(box.width_mm, box.height_mm) / count
    columns, rows = max(1, round(box.width_mm / side)), max(1, round(box.height_mm / side))
    width, height = box.width_mm / columns, box.height_mm / rows
    return [
        Rect(box.left_mm + c * width, box.bottom_mm + r * height, width, height)
        for r in range(rows)
        for c in range(columns)
    ]


def corners_of(rect: Rect) -> Array:
    """List the corners (4, 2) of a rectangle, y up, from the lower left one."""
    return np.array(
        [
            [rect.left_mm, rect.top_mm],
            [rect.right_mm, rect.top_mm],
            [rect.right_mm, rect.bottom_mm],
            [rect.left_mm, rect.bottom_mm],
        ]
    )


def drawn_pattern(
    pattern: PrintedPattern,
    to_photo: Array,
    origin: tuple[int, int],
    shape: tuple[int, ...],
    blur_px: float,
) -> Grey:
    """Draw the pattern as the photo would show it: pixels average light, and blur spreads it."""
    fine = 4 if max(shape) < 250 else 2 if max(shape) < 1600 else 1
    matrix = to_photo @ pattern.raster_to_mm
    to_part = np.array(
        [
            [fine, 0, -fine * origin[0] + (fine - 1) / 2],
            [0, fine, -fine * origin[1] + (fine - 1) / 2],
            [0, 0, 1.0],
        ]
    )
    scale = np.sqrt(abs(np.linalg.det((to_part @ matrix)[:2, :2])) / abs(matrix[2, 2]) ** 2)
    raster = pattern.raster
    if scale < 0.5:
        # Each raster pixel would be skipped by the warp: average first.
        shrink = int(np.floor(1 / scale))
        height, width = raster.shape
        size = (max(1, width // shrink), max(1, height // shrink))
        raster = np.asarray(cv2.resize(raster, size, interpolation=cv2.INTER_AREA), np.float32)
        ratio = np.array([width / size[0], height / size[1]])
        matrix = matrix @ np.array(
            [[ratio[0], 0, (ratio[0] - 1) / 2], [0, ratio[1], (ratio[1] - 1) / 2], [0, 0, 1.0]]
        )
    large = cv2.warpPerspective(
        raster,
        to_part @ matrix,
        (shape[1] * fine, shape[0] * fine),
        flags=cv2.INTER_LINEAR,
        borderValue=1.0,
    )
    large = cv2.GaussianBlur(large, (0, 0), blur_px * fine)
    return np.asarray(
        cv2.resize(large, (shape[1], shape[0]), interpolation=cv2.INTER_AREA), np.float32
    )


def moved_drawing(layer: Grey, shift: Array) -> Grey:
    """Shift a drawing by (x, y) px, between pixels by cubic convolution."""
    height, width = layer.shape
    across, down = np.meshgrid(
        np.arange(width, dtype=np.float32) - np.float32(shift[0]),
        np.arange(height, dtype=np.float32) - np.float32(shift[1]),
    )
    moved = cv2.remap(layer, across, down, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(moved, np.float32)

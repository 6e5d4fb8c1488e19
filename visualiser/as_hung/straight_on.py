"""See a plane of the wall straight-on, and sum how well straight edges support a rectangle there.

The map from the plane's samples to the photo is smooth: a coarse grid of it is projected, the rest
interpolated. The signed gradient is summed along each side of a rectangle, at every place at once:
texture cancels in the sum, a straight edge adds up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.as_hung.frame import HungFrame
from visualiser.photo.photo import PixelsRgb
from visualiser.raster import interpolated, node_places
from visualiser.rectification.plane import WallPlane
from visualiser.statistics import robust_sigma

Array = NDArray[np.float32]
COARSE = 8
"""The map is smooth: of so many samples one is computed, the rest are interpolated."""
WITHIN_WEIGHT = 0.5
"""An edge inside the frame counts half: mouldings and mats are measured less carefully."""


def photo_map(
    plane: WallPlane,
    first_mm: tuple[float, float],
    step_mm: float,
    size: tuple[int, int],
    height_mm: float,
) -> Array:
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
    across, down = (node_places(n, COARSE) * step_mm for n in size)
    x, y = np.meshgrid(first_mm[0] + across, first_mm[1] - down)
    px = plane.project(np.c_[x.ravel(), y.ravel(), np.full(x.size, height_mm)])
    return interpolated(px.reshape(*x.shape, 2), COARSE, columns, rows)


def straight_on(
    pixels: PixelsRgb, plane: WallPlane, frame: HungFrame, margin_mm: float, step_mm: float
) -> tuple[Array, float]:
    """Sample the neighbourhood in the plane of the front face; also the share inside the photo."""
    diagonal = 0.09 * max(frame.width_mm, frame.height_mm)  # a tilt of 5 degrees swings the corners
    half_w = frame.width_mm / 2 + margin_mm + diagonal
    half_h = frame.height_mm / 2 + margin_mm + diagonal
    across, down = int(half_w / step_mm), int(half_h / step_mm)
    corner = frame.x_mm - across * step_mm, frame.y_mm + down * step_mm
    px = photo_map(plane, corner, step_mm, (2 * across + 1, 2 * down + 1), frame.depth_mm)
    height, width = pixels.shape[:2]
    inside = (px >= 0).all(axis=2) & (px[..., 0] <= width - 1) & (px[..., 1] <= height - 1)
    if not inside.any():
        return np.zeros((*px.shape[:2], 3), np.float32), 0.0
    low = np.maximum(np.floor(px[inside].min(axis=0)).astype(int) - 2, 0)
    high = np.ceil(px[inside].max(axis=0)).astype(int) + 3
    part: NDArray[Any] = pixels[low[1] : high[1], low[0] : high[0]]
    shrink = step_mm / float(plane.mm_per_px(np.array([[frame.x_mm, frame.y_mm]]))[0])
    if shrink > 1.5:  # several photo pixels to a sample: average them first
        part = cv2.GaussianBlur(part, (0, 0), 0.4 * shrink)
    local = px - low.astype(np.float32)
    patch = cv2.remap(
        part, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(patch, np.float32), float(inside.mean())


@dataclass(frozen=True, slots=True)
class Within:
    """An inner rectangle as it is seen on the plane of the front: size and middle in samples."""

    size: tuple[float, float]
    middle: tuple[float, float]

    def reduced(self, times: int) -> Within:
        """Say where it is in a picture reduced so many times."""
        (width, height), (x, y) = self.size, self.middle
        return Within((width / times, height / times), (x / times, y / times))


def edge_votes(patch: Array) -> tuple[list[Array], list[Array]]:
    """Signed gradients, levelling off where an edge is clear beyond doubt: -1 to 1, (H, W) each.

    Parameters
    ----------
    patch
        (H, W, 3).

    Returns
    -------
    Votes of the three channels along x, and along y.
    """
    across, down = [], []
    for plane in cv2.split(cv2.GaussianBlur(patch, (0, 0), 0.8)):
        along_x, along_y = (np.zeros(plane.shape, np.float32) for _ in range(2))
        np.subtract(plane[:, 2:], plane[:, :-2], out=along_x[:, 1:-1])
        np.subtract(plane[2:], plane[:-2], out=along_y[1:-1])
        across.append(_levelled_off(along_x))
        down.append(_levelled_off(along_y))
    return across, down


def _levelled_off(gradient: Array) -> Array:
    """Hold a gradient against three times its noise."""
    size = np.abs(gradient)
    doubtful = max(3 * float(robust_sigma(size[::3, ::3])), 2.0)
    return np.asarray(gradient / (size + np.float32(doubtful)), np.float32)


def side_support(
    across: Sequence[Array], down: Sequence[Array], size: tuple[float, float]
) -> Array:
    """Sum of the four sides' support for a rectangle of a size around every sample, 0 to 4.

    Parameters
    ----------
    across, down
        Votes of `edge_votes` along x and along y.
    size
        Width and height in samples.
    """
    height, width = across[0].shape
    w, h = size
    level, plumb = _summed(down, (_along(w), 1)), _summed(across, (1, _along(h)))
    # A tilted or shifted edge still counts within a sample.
    near_level = cv2.dilate(level, np.ones((3, 1)))
    near_plumb = cv2.dilate(plumb, np.ones((1, 3)))
    total = np.zeros((height, width), np.float32)
    for image, dx, dy in (
        (near_level, 0.0, -h / 2),
        (near_level, 0.0, h / 2),
        (near_plumb, -w / 2, 0.0),
        (near_plumb, w / 2, 0.0),
    ):
        matrix = np.array([[1, 0, -round(dx)], [0, 1, -round(dy)]], float)
        total += cv2.warpAffine(image, matrix, (width, height), flags=cv2.INTER_NEAREST)
    return total


def side_maps(
    patch: Array, size: tuple[float, float], reach: int, within: Sequence[Within]
) -> tuple[Array, Array]:
    """Support of each side at every shift, (4, S, S), and the score of every shift, (S, S)."""
    across, down = edge_votes(patch)
    outer = _shifts(across, down, size, reach, (0.0, 0.0))
    total = outer.sum(axis=0)
    for inner in within:
        found = _shifts(across, down, inner.size, reach, inner.middle)
        total = total + WITHIN_WEIGHT * found.sum(axis=0)
    return outer, total


def pair_support(
    across: Sequence[Array],
    down: Sequence[Array],
    size: tuple[float, float],
    reach: int,
    within: Sequence[Within],
) -> tuple[Array, Array]:
    """Support of the plumb sides and of the level sides at every shift, (S, S) each."""
    found = _shifts(across, down, size, reach, (0.0, 0.0))
    for inner in within:
        found = found + WITHIN_WEIGHT * _shifts(across, down, inner.size, reach, inner.middle)
    return found[1] + found[3], found[0] + found[2]


def _shifts(
    across: Sequence[Array],
    down: Sequence[Array],
    size: tuple[float, float],
    reach: int,
    middle: tuple[float, float],
) -> Array:
    """Support of top, right, bottom and left of a rectangle at every shift, (4, S, S)."""
    rows, columns = across[0].shape
    middle_x, middle_y = (columns - 1) / 2 + middle[0], (rows - 1) / 2 + middle[1]
    w, h = size
    along_w, along_h = _along(w), _along(h)
    shifts = 2 * reach + 1

    def level(dy: float) -> Array:
        # Only what the side can reach is summed.
        row, column = round(middle_y + dy) - reach, round(middle_x) - reach
        first = max(column - along_w, 0)
        part = slice(row, row + shifts), slice(first, column + shifts + along_w)
        summed = _summed([votes[part] for votes in down], (along_w, 1))
        return summed[:, column - first : column - first + shifts]

    def plumb(dx: float) -> Array:
        row, column = round(middle_y) - reach, round(middle_x + dx) - reach
        first = max(row - along_h, 0)
        part = slice(first, row + shifts + along_h), slice(column, column + shifts)
        summed = _summed([votes[part] for votes in across], (1, along_h))
        return summed[row - first : row - first + shifts]

    return np.stack([level(-h / 2), plumb(w / 2), level(h / 2), plumb(-w / 2)])


def _summed(votes: Sequence[Array], window: tuple[int, int]) -> Array:
    """Coherent support along a window centred on every sample, in the clearest channel, 0 to 1."""
    red, green, blue = (
        np.abs(cv2.blur(plane, window, borderType=cv2.BORDER_CONSTANT)) for plane in votes
    )
    return np.maximum(np.maximum(red, green), blue)


def _along(length: float) -> int:
    """How many samples of a side count: its ends may be hidden by the corners of others."""
    return max(round(0.94 * length), 1)

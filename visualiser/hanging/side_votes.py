"""How well straight edges speak for a rectangle's sides, at every place at once.

The signed gradient is summed along each side. Texture cancels in the sum, a straight edge adds up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float32]

WITHIN_WEIGHT = 0.5
"""An edge inside the frame counts half: mouldings and mats are measured less carefully."""


@dataclass(frozen=True, slots=True)
class Within:
    """An inner rectangle as it is seen on the plane of the front: size and middle in samples."""

    size: tuple[float, float]
    middle: tuple[float, float]

    def reduced(self, times: int) -> Within:
        """Say where it is in a picture reduced so many times."""
        (width, height), (x, y) = self.size, self.middle
        return Within((width / times, height / times), (x / times, y / times))


def edge_votes(patch: Array, axis: int) -> Array:
    """Signed gradient, levelling off where an edge is clear beyond doubt: -1 to 1, (H, W, 3)."""
    smooth = cv2.GaussianBlur(patch, (0, 0), 0.8)
    gradient = np.zeros_like(smooth)
    if axis == 1:
        gradient[:, 1:-1] = smooth[:, 2:] - smooth[:, :-2]
    else:
        gradient[1:-1] = smooth[2:] - smooth[:-2]
    noise = 1.4826 * np.median(np.abs(gradient[::3, ::3]), axis=(0, 1))
    doubtful = np.maximum(3 * noise, 2.0).astype(np.float32)
    return np.asarray(gradient / (np.abs(gradient) + doubtful), np.float32)


def side_support(across: Array, down: Array, size: tuple[float, float]) -> Array:
    """Sum of the four sides' support for a rectangle of a size around every sample, 0 to 4.

    Parameters
    ----------
    across, down
        Votes (H, W, 3) of `edge_votes` along x and along y.
    size
        Width and height in samples.
    """
    height, width = across.shape[:2]
    w, h = size
    level, plumb = _level_and_plumb(across, down, size)
    # A tilted or shifted edge still counts within a sample.
    level, plumb = cv2.dilate(level, np.ones((3, 1))), cv2.dilate(plumb, np.ones((1, 3)))
    total = np.zeros((height, width), np.float32)
    for image, dx, dy in (
        (level, 0.0, -h / 2),
        (level, 0.0, h / 2),
        (plumb, -w / 2, 0.0),
        (plumb, w / 2, 0.0),
    ):
        matrix = np.array([[1, 0, -round(dx)], [0, 1, -round(dy)]], float)
        total += cv2.warpAffine(image, matrix, (width, height), flags=cv2.INTER_NEAREST)
    return total


def _level_and_plumb(
    across: Array, down: Array, size: tuple[float, float]
) -> tuple[NDArray[Any], NDArray[Any]]:
    """Coherent edge support of a level and of a plumb side centred on every sample, 0 to 1."""
    along_w, along_h = (_along(length) for length in size)
    level = cv2.blur(down, (along_w, 1), borderType=cv2.BORDER_CONSTANT)
    plumb = cv2.blur(across, (1, along_h), borderType=cv2.BORDER_CONSTANT)
    return _strongest(level), _strongest(plumb)


def _along(length: float) -> int:
    """How many samples of a side count: its ends may be hidden by the corners of others."""
    return max(round(0.94 * length), 1)


def _strongest(votes: NDArray[Any]) -> NDArray[Any]:
    """Largest magnitude over the three channels."""
    red, green, blue = cv2.split(np.abs(votes))
    return np.asarray(cv2.max(cv2.max(red, green), blue))


def side_maps(
    patch: Array, size: tuple[float, float], reach: int, within: Sequence[Within]
) -> tuple[Array, Array]:
    """Support of each side at every shift, (4, S, S), and the score of every shift, (S, S)."""
    across, down = edge_votes(patch, 1), edge_votes(patch, 0)
    outer = _shifts(across, down, size, reach, (0.0, 0.0))
    total = outer.sum(axis=0)
    for inner in within:
        found = _shifts(across, down, inner.size, reach, inner.middle)
        total = total + WITHIN_WEIGHT * found.sum(axis=0)
    return outer, total


def _shifts(
    across: Array,
    down: Array,
    size: tuple[float, float],
    reach: int,
    middle: tuple[float, float],
) -> Array:
    """Support of top, right, bottom and left of a rectangle at every shift, (4, S, S)."""
    middle_x = (across.shape[1] - 1) / 2 + middle[0]
    middle_y = (across.shape[0] - 1) / 2 + middle[1]
    w, h = size
    along_w, along_h = (_along(length) for length in size)

    def level(dy: float) -> NDArray[Any]:
        # Only what the side can reach is summed.
        row, column = round(middle_y + dy) - reach, round(middle_x) - reach
        first = max(column - along_w, 0)
        part = down[row : row + 2 * reach + 1, first : column + 2 * reach + 1 + along_w]
        summed = cv2.blur(part, (along_w, 1), borderType=cv2.BORDER_CONSTANT)
        return _strongest(summed[:, column - first : column - first + 2 * reach + 1])

    def plumb(dx: float) -> NDArray[Any]:
        row, column = round(middle_y) - reach, round(middle_x + dx) - reach
        first = max(row - along_h, 0)
        part = across[first : row + 2 * reach + 1 + along_h, column : column + 2 * reach + 1]
        summed = cv2.blur(part, (1, along_h), borderType=cv2.BORDER_CONSTANT)
        return _strongest(summed[row - first : row - first + 2 * reach + 1])

    return np.stack([level(-h / 2), plumb(w / 2), level(h / 2), plumb(-w / 2)])

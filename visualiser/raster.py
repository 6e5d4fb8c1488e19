"""Pictures as regular grids: places at another size, and values known at every so many pixels.

Pixel (0, 0) is the centre of the top-left pixel, so the picture's corner lies at (-0.5, -0.5).
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray


def resized_px(points_px: ArrayLike, factor: ArrayLike) -> NDArray[np.float64]:
    """Carry places in a picture over to the same picture at another size.

    Parameters
    ----------
    points_px
        (..., 2) or (N,) px.
    factor
        New size over old size; one for both axes, or (2,).

    Examples
    --------
    The middle of a pixel's left half is the centre of the left one of the four it becomes.

    >>> resized_px([[-0.25, 0.0]], 2).tolist()
    [[0.0, 0.5]]
    """
    return np.asarray((np.asarray(points_px, float) + 0.5) * np.asarray(factor, float) - 0.5)


def shrunk(pixels: NDArray[np.uint8], width: int, height: int) -> NDArray[np.uint8]:
    """Average a picture (H, W, 3) over areas to a smaller size, px; one of that size is kept."""
    if pixels.shape[:2] == (height, width):
        return pixels
    return np.asarray(cv2.resize(pixels, (width, height), interpolation=cv2.INTER_AREA), np.uint8)


def node_places(size: int, step: int) -> NDArray[np.int_]:
    """List every so-many-th place along a side of a picture, up to one past its end."""
    return np.arange(0, size + step, step)


def interpolated(
    nodes: NDArray[np.floating], step: int, width: int, height: int
) -> NDArray[np.float32]:
    """Fill a picture in between places where its values are known, linearly.

    What takes long to compute for every pixel and bends little, such as where a pixel of one view
    lies in another, is computed at the places of `node_places` alone.

    Parameters
    ----------
    nodes
        (rows, columns) or (rows, columns, 2) values at the places.
    step
        Pixels from one place to the next.
    width, height
        Of the picture.

    Returns
    -------
    (height, width) or (height, width, 2).
    """
    u, v = np.meshgrid(*(np.arange(n, dtype=np.float32) / step for n in (width, height)))
    known = nodes.astype(np.float32)
    return np.asarray(
        cv2.remap(known, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32
    )

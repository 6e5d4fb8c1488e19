"""Places of a photo that may be wall: not painted by themselves, each worth a person's word."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.raster import resized_px

MOST_PLACES = 12
"""The largest; more questions than these nobody answers."""
_SIMPLER_PX = 1.5
"""By so much, in elements of the mask, an outline may be off where that makes it simpler."""


@dataclass(frozen=True, slots=True, eq=False)
class DoubtfulPlace:
    """A region that may be wall.

    Parameters
    ----------
    outline_px
        (N, 2) its outline, photo px.
    inside_px
        Its spot farthest from the outline, photo px: where a tap means this region.
    """

    outline_px: PointsPx
    inside_px: tuple[float, float]


def doubtful_places(
    unsure: NDArray[np.bool_], size_px: tuple[int, int], most: int = MOST_PLACES
) -> tuple[DoubtfulPlace, ...]:
    """Outline the regions of a mask, the largest first.

    Parameters
    ----------
    unsure
        (h, w) what may be wall, at reduced size.
    size_px
        Width and height of the photo that the outlines are for.
    most
        Regions to give at most.
    """
    count, names, stats, _ = cv2.connectedComponentsWithStats(unsure.astype(np.uint8))
    order = sorted(range(1, count), key=lambda k: (-int(stats[k, cv2.CC_STAT_AREA]), k))
    scale = np.array(size_px) / (unsure.shape[1], unsure.shape[0])

    places = []
    for name in order[:most]:
        own = np.pad((names == name).astype(np.uint8), 1)
        contours, _ = cv2.findContours(own, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        outline = cv2.approxPolyDP(max(contours, key=cv2.contourArea), _SIMPLER_PX, True)[:, 0]
        depth = cv2.distanceTransform(own, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
        row, column = np.unravel_index(int(depth.argmax()), depth.shape)
        x, y = resized_px([column - 1.0, row - 1.0], scale)
        places.append(DoubtfulPlace(resized_px(outline - 1.0, scale), (float(x), float(y))))
    return tuple(places)

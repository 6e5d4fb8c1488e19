"""Square markers of the published dictionaries (ArUco, AprilTag): how they look and where they are.

OpenCV's detector drops what is smaller than a share of the picture, which hides a marker on a photo
of a whole wall at any resolution. Here its limits follow from pixels: the photo is looked at in
steps of size, and in each a marker counts from so many pixels a module on.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx, Rect
from visualiser.photo.photo import Photo

LEAST_SIDE_PX = 13.0
"""Side of the smallest marker that is looked for at each size of the photo: 6 modules of 2 px."""
LONG_SIDES_PX = (1400, 2800)
"""Sizes a photo is looked at in, coarse first: large markers are found soonest where they are
small, and noise is averaged away."""
LARGEST_PX = 4.5e7
"""Pixels beyond which nothing is enlarged."""


class SeenMarker(NamedTuple):
    """A marker that was read: its number, and its corners (4, 2) px in the marker's own order."""

    number: int
    corners_px: PointsPx


class MarkerSet(NamedTuple):
    """A published dictionary: OpenCV's name of it, and how many of its first numbers are read."""

    name: str
    first: int | None = None


@cache
def dictionary(markers: MarkerSet) -> Any:
    """Load a published dictionary from OpenCV."""
    found = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, markers.name))
    if markers.first is None:
        return found
    return cv2.aruco.Dictionary(found.bytesList[: markers.first], found.markerSize)


def modules(markers: MarkerSet, number: int) -> NDArray[np.bool_]:
    """Draw a marker, one value a module: True is white. Its black border is part of it."""
    words = dictionary(markers)
    side = int(words.markerSize) + 2
    return np.asarray(words.generateImageMarker(number, side)) > 127


def marker_shapes(
    markers: MarkerSet, number: int, left_mm: float, top_mm: float, side_mm: float, inverted: bool
) -> list[tuple[Rect, bool]]:
    """Rectangles to paint one over the other for a marker, and whether each is black (y up)."""
    white = modules(markers, number)
    step = side_mm / len(white)
    shapes = [(Rect(left_mm, top_mm - side_mm, side_mm, side_mm), not inverted)]
    for row, column in zip(*np.nonzero(white), strict=True):
        box = Rect(left_mm + column * step, top_mm - (row + 1) * step, step, step)
        shapes.append((box, inverted))
    return shapes


def read_markers(
    photo: Photo, markers: MarkerSet, numbers: Sequence[int] | None = None, *, both: bool = False
) -> Iterator[list[SeenMarker]]:
    """Read markers at one size of the photo after the other.

    Parameters
    ----------
    photo
        The photo.
    markers
        Which dictionary.
    numbers
        The numbers that matter; None for all.
    both
        Whether white markers on black are read as well.

    Yields
    ------
    What was read at each size, coarse first. A marker may be read at several.
    """
    grey = cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY)
    long_side = max(grey.shape)
    for size in sorted({min(size, 2 * long_side) for size in LONG_SIDES_PX}):
        zoom = size / long_side
        if zoom > 1 and grey.size * zoom**2 > LARGEST_PX:
            break
        how = cv2.INTER_AREA if zoom < 1 else cv2.INTER_CUBIC
        seen = grey if zoom == 1 else cv2.resize(grey, None, fx=zoom, fy=zoom, interpolation=how)
        detector = cv2.aruco.ArucoDetector(dictionary(markers), _settings(max(seen.shape), both))
        corners, ids, _ = detector.detectMarkers(np.ascontiguousarray(seen))
        found = []
        for number, quad in zip([] if ids is None else np.ravel(ids), corners, strict=False):
            if numbers is None or int(number) in numbers:
                points = (np.asarray(quad, float).reshape(4, 2) + 0.5) / zoom - 0.5
                found.append(SeenMarker(int(number), points))
        yield found


def _settings(long_side_px: int, both: bool) -> Any:
    settings = cv2.aruco.DetectorParameters()
    settings.minMarkerPerimeterRate = 4 * LEAST_SIDE_PX / long_side_px
    settings.detectInvertedMarker = both
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    # Small markers have small gaps between their corners and to the picture's border.
    settings.minCornerDistanceRate = 0.02
    settings.minDistanceToBorder = 1
    settings.perspectiveRemovePixelPerCell = 6
    return settings

"""Find single square markers of a typed size, of any published dictionary."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np

from visualiser.geometry import PointsMm, PointsPx, Rect
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.markers import MarkerSet, marker_shapes, modules, read_markers
from visualiser.rectification.finder.printed_pattern import PrintedPattern, map_points
from visualiser.rectification.finder.registration import Registration, register, turned_as_seen
from visualiser.rectification.reference import Reference

DICTIONARIES = tuple(
    MarkerSet(name)
    for name in (
        "DICT_4X4_1000",
        "DICT_5X5_1000",
        "DICT_6X6_1000",
        "DICT_7X7_1000",
        "DICT_ARUCO_ORIGINAL",
        "DICT_APRILTAG_16h5",
        "DICT_APRILTAG_25h9",
        "DICT_APRILTAG_36h10",
        "DICT_APRILTAG_36h11",
    )
)
"""What markers of known size are printed from: ArUco's and AprilTag's published sets."""
LEAST_LIKENESS = 0.95
"""Correlation below which a pattern read in the photo is no marker: small dictionaries are read in
foliage and brickwork, which do not look like the marker they are read as."""
SIZE_SIGMA_MM = 0.3
"""Standard uncertainty of a typed side: a ruler's reading of half a millimetre each way."""


def find_square_markers(photo: Photo, side_mm: float) -> list[Reference]:
    """Find markers whose black square has a given side.

    Parameters
    ----------
    photo
        The photo.
    side_mm
        Side of the black square as printed.

    Returns
    -------
    Every marker read of the first dictionary of which there are any, the largest in the photo
    first.
    """
    found: list[tuple[Reference, float]] = []
    for markers in DICTIONARIES:
        for seen in read_markers(photo, markers):
            for one in seen:
                reference = _placed(photo, markers, one.number, one.corners_px, side_mm)
                if reference is None:
                    continue
                corners = reference.corners_px
                if not any(_same_place(corners, other.corners_px) for other, _ in found):
                    found.append((reference, float(np.ptp(corners, axis=0).min())))
            if seen and found:
                break
        if found:  # what hangs there was printed from one dictionary, and the others cost as much
            break
    found.sort(key=lambda pair: -pair[1])
    return [reference for reference, _ in found]


def _same_place(one: PointsPx, other: PointsPx) -> bool:
    """Check whether the middle of one quadrilateral lies in the other."""
    x, y = one.mean(axis=0)
    return cv2.pointPolygonTest(other.astype(np.float32), (float(x), float(y)), False) >= 0


def _placed(
    photo: Photo, markers: MarkerSet, number: int, corners_px: PointsPx, side_mm: float
) -> Reference | None:
    half = side_mm / 2
    square = np.array([[-half, half], [half, half], [half, -half], [-half, -half]])
    start = cv2.getPerspectiveTransform(square.astype(np.float32), corners_px.astype(np.float32))
    pattern = _pattern(markers, number, side_mm)
    found = register(photo, pattern, np.asarray(start, np.float64))
    if found is None or found.likeness < LEAST_LIKENESS or found.seen < 1.0:
        return None
    return _as_reference(found, square, side_mm)


def _as_reference(found: Registration, square: PointsMm, side_mm: float) -> Reference:
    corners, marks_mm, _ = turned_as_seen(map_points(found.to_photo, square), found.marks_mm)
    return Reference(
        f"marker {side_mm:g} mm",
        corners,
        side_mm,
        side_mm,
        confidence=0.9 + 0.09 * found.likeness,
        marks_px=found.marks_px,
        marks_mm=marks_mm,
        marks_sigma_px=found.sigma_px,
        size_sigma_mm=SIZE_SIGMA_MM,
    )


@cache
def _pattern(markers: MarkerSet, number: int, side_mm: float) -> PrintedPattern:
    """Draw the marker and half a module of the white around it, from its middle."""
    half = side_mm / 2
    quiet = side_mm / len(modules(markers, number)) / 2
    outline = Rect(-half - quiet, -half - quiet, side_mm + 2 * quiet, side_mm + 2 * quiet)
    shapes = marker_shapes(markers, number, -half, half, side_mm, inverted=False)
    return PrintedPattern(outline, tuple(shapes), raster_mm=side_mm / 200)

"""The usable wall: what of it the photo shows, between floor, ceiling and corners."""

from __future__ import annotations

import cv2
import numpy as np

from visualiser.errors import MeasurementError
from visualiser.geometry import PointsMm, Polygon
from visualiser.rectification.plane import WallPlane, faces_wall
from visualiser.survey.wall_ends import WallEnds

FARTHEST_MM = 6000.0
"""Wall further than this from the camera's axis is not surveyed from one photo."""
LOW_CEILING_MM, CEILING_ABOVE_REFERENCE_MM = 2400.0, 900.0
"""Where no ceiling is seen the wall is taken to end this far above the floor, or above the
reference's middle where the floor is not known either (a low room; common practice)."""


def usable_wall(
    plane: WallPlane, width_px: int, height_px: int, floor_y_mm: float | None, ends: WallEnds
) -> Polygon:
    """Find the wall to hang on, in the plane's wall mm.

    Parameters
    ----------
    plane
        The measured wall.
    width_px, height_px
        Size of the photo.
    floor_y_mm
        Height of the floor, or None.
    ends
        Its other ends, as far as they are seen.
    """
    shown = shown_wall(plane, width_px, height_px)
    if floor_y_mm is not None:
        shown = _clipped(shown, axis=1, at=floor_y_mm, keep_above=True)
    ceiling = ends.top_mm
    if ceiling is None:
        above, rise = (0.0, CEILING_ABOVE_REFERENCE_MM)
        if floor_y_mm is not None:
            above, rise = floor_y_mm, LOW_CEILING_MM
        ceiling = above + rise
    shown = _clipped(shown, axis=1, at=ceiling, keep_above=False)
    left, right = ends.left_mm, ends.right_mm
    if left is not None:
        shown = _clipped(shown, axis=0, at=left, keep_above=True)
    if right is not None:
        shown = _clipped(shown, axis=0, at=right, keep_above=False)
    points = tuple((float(x), float(y)) for x, y in np.round(shown, 1))
    return Polygon(points)


def shown_wall(plane: WallPlane, width_px: int, height_px: int) -> PointsMm:
    """Outline (N, 2) of the wall's plane as far as the photo shows it: a convex region.

    Raises
    ------
    MeasurementError
        If next to nothing of it is within a room's length.
    """
    x, y = np.linspace(0, width_px - 1, 24), np.linspace(0, height_px - 1, 18)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    wall = plane.to_wall(grid[faces_wall(plane, grid)])
    camera = plane.camera_mm[:2]
    wall = wall[np.abs(wall - camera).max(axis=1) < FARTHEST_MM]
    hull = cv2.convexHull(wall.astype(np.float32)) if len(wall) else None
    if hull is None or len(hull) < 3:
        raise MeasurementError(
            "By the size of what was measured with, the wall is further off than any room is long.",
            hint="Check the kind and size of the reference, and that its corners lie on it.",
        )
    return np.asarray(hull.reshape(-1, 2), float)


def _clipped(points: PointsMm, *, axis: int, at: float, keep_above: bool) -> PointsMm:
    """Cut a convex outline (N, 2) by a level or plumb line (Sutherland & Hodgman 1974).

    An outline that would vanish is left as it is.
    """
    sign = 1.0 if keep_above else -1.0
    gap = sign * (points[:, axis] - at)
    kept = []
    for a, b, gap_a, gap_b in zip(
        points, np.roll(points, -1, axis=0), gap, np.roll(gap, -1), strict=True
    ):
        if gap_a >= 0:
            kept.append(a)
        if gap_a * gap_b < 0:
            kept.append(a + (b - a) * gap_a / (gap_a - gap_b))
    return np.array(kept) if len(kept) >= 3 else points

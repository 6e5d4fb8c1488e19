"""The shadow that a piece throws on the wall around it.

Where the wall is lit alike, the shadow of a box depends on its size and depth alone, not on its
place: it is worked out once on a grid around the box, fine where it is steep, and looked up there.
"""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import Rect
from visualiser.photo.linear_light import to_linear, to_pixels
from visualiser.rendering.shading import BOUNCE, shadow, shadow_reach_mm
from visualiser.rendering.sight_lines import Field, Region, wall_points
from visualiser.survey.main_light import MainLight
from visualiser.survey.survey import Survey

_OUTSIDE_STEP_MM, _ALONG_STEP_MM = 2.5, 8.0
_OFF_EDGE_MM = 0.3


def cast_shadow(
    pixels: NDArray[np.uint8],
    survey: Survey,
    rect: Rect,
    depth_mm: float,
    light: MainLight,
    side_reflectance: float,
    ground: float = BOUNCE,
) -> None:
    """Dim the wall around a box, in place, by the light that the box keeps off.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 sRGB.
    survey
        Survey with the plane of these pixels.
    rect
        The box's foot on the wall.
    depth_mm
        How far it stands out.
    light
        Light on the wall.
    side_reflectance, ground
        Of the box's sides and of the wall.
    """
    if depth_mm <= 0:
        return
    reach = shadow_reach_mm(depth_mm, light)
    table = _table(rect.width_mm, rect.height_mm, depth_mm, light, side_reflectance, ground)
    across, up = (_steps(size, reach) for size in (rect.width_mm, rect.height_mm))
    corners = survey.to_photo(rect.corners())
    whole = Region.around(survey.to_photo(rect.grown(reach).corners()), 2, pixels.shape)
    for part in _around(whole, corners):
        x, y = wall_points(survey, part)
        u = _index(x - np.float32(rect.left_mm), rect.width_mm, reach, *across)
        v = _index(y - np.float32(rect.bottom_mm), rect.height_mm, reach, *up)
        dimmed = np.asarray(cv2.remap(table, u, v, cv2.INTER_LINEAR), np.float32)
        touched = np.abs(dimmed) > 0.002
        if not touched.any():
            continue
        patch = pixels[part.slices]
        left = to_linear(np.ascontiguousarray(patch)) * (1 - dimmed)[..., None]
        np.copyto(patch, to_pixels(left), where=touched[..., None])


def _around(whole: Region, corners_px: NDArray[np.float64]) -> list[Region]:
    """Four strips of a region around the rectangle that a box's foot surely covers."""
    (x0, y0), (x1, y1) = (whole.x, whole.y), (whole.x + whole.width, whole.y + whole.height)
    tl, tr, br, bl = corners_px
    left, right = np.clip([max(tl[0], bl[0]) + 3, min(tr[0], br[0]) - 3], x0, x1).astype(int)
    top, bottom = np.clip([max(tl[1], tr[1]) + 3, min(bl[1], br[1]) - 3], y0, y1).astype(int)
    if left >= right or top >= bottom:
        return [whole] if min(whole.width, whole.height) >= 2 else []
    strips = [
        Region(x0, y0, whole.width, top - y0),
        Region(x0, bottom, whole.width, y1 - bottom),
        Region(x0, top, left - x0, bottom - top),
        Region(right, top, x1 - right, bottom - top),
    ]
    return [strip for strip in strips if min(strip.width, strip.height) >= 1]


def _steps(size_mm: float, reach_mm: float) -> tuple[int, int]:
    """Count the steps of the grid outside an edge, and along the box."""
    return (
        max(round(reach_mm / _OUTSIDE_STEP_MM), 2),
        max(round(size_mm / _ALONG_STEP_MM), 1),
    )


def _index(from_edge: Field, size_mm: float, reach_mm: float, outside: int, along: int) -> Field:
    """Place on the grid of points by their distance from a box's first edge."""
    size, fine = np.float32(size_mm), np.float32(outside / reach_mm)
    before = np.clip(from_edge, -np.float32(reach_mm), 0) * fine
    within = np.clip(from_edge, 0, size) * np.float32(along / size_mm)
    after = np.clip(from_edge - size, 0, np.float32(reach_mm)) * fine
    return np.asarray(before + within + after + np.float32(outside), np.float32)


@lru_cache(maxsize=64)
def _table(
    width_mm: float,
    height_mm: float,
    depth_mm: float,
    light: MainLight,
    side_reflectance: float,
    ground: float,
) -> Field:
    """Shadow on the grid around a box whose lower left corner is the origin, fading to 0."""
    reach = shadow_reach_mm(depth_mm, light)

    def nodes(size_mm: float) -> NDArray[np.float32]:
        outside, along = _steps(size_mm, reach)
        before = np.linspace(-reach, 0, outside + 1)
        within = np.linspace(0, size_mm, along + 1)
        return np.asarray(np.r_[before, within[1:], size_mm - before[::-1][1:]], np.float32)

    box = Rect(0.0, 0.0, width_mm, height_mm)
    x, y = np.meshgrid(nodes(width_mm), nodes(height_mm))
    left, right = x, np.float32(width_mm) - x
    low, high = y, np.float32(height_mm) - y
    inside = np.minimum(np.minimum(left, right), np.minimum(low, high))
    # Points under the box count as at its nearest edge: nothing darker bleeds out from there.
    under = inside >= 0
    moved_x, moved_y = x.copy(), y.copy()
    for ways, sign, moved in (
        (left, -1, moved_x), (right, 1, moved_x), (low, -1, moved_y), (high, 1, moved_y)
    ):  # fmt: skip
        here = under & (ways == inside)
        moved[here] += np.float32(sign) * (ways[here] + np.float32(_OFF_EDGE_MM))
    dimmed = shadow(moved_x, moved_y, box, depth_mm, light, side_reflectance, ground)
    dimmed *= np.clip((inside + np.float32(reach)) / np.float32(2 * depth_mm), 0, 1)
    dimmed.flags.writeable = False
    return dimmed

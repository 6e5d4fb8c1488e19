"""Painting out what should not be seen: filled with the wall's own texture from beside it.

A piece of bare wall of the same shape is looked for, in wall millimetres so that a pattern's
repeat fits in any perspective; it is copied pixel for pixel, and its light is bent to meet the
light around the hole.

References
----------
A. Criminisi, P. Perez, K. Toyama, "Region filling and object removal by exemplar-based image
inpainting", IEEE Trans. Image Processing 13(9), 2004 (one large exemplar here instead of many
small ones); P. Perez, M. Gangnet, A. Blake, "Poisson image editing", ACM TOG 22(3), 2003
(membrane correction, here of log light).
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm, PointsPx
from visualiser.photo.linear_light import to_linear, to_pixels
from visualiser.photo.photo import PixelsRgb
from visualiser.rendering.coarse_wall import CoarseWall, Mask, carried_across
from visualiser.rendering.sight_lines import Region, sight_lines
from visualiser.survey.survey import Survey

_SEARCH_MM = 750.0


def paint_out(
    pixels: NDArray[np.uint8], survey: Survey, outline_px: PointsPx, avoid_px: list[PointsPx]
) -> bool:
    """Fill an outline (and the tape and shadow that hang on it) with wall, in place.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8, changed in place.
    survey
        Survey with the plane of these pixels.
    outline_px
        (N, 2) what to paint out.
    avoid_px
        Other outlines that are not bare wall: nothing is copied from there.

    Returns
    -------
    Whether bare wall was found to copy from; nothing is changed otherwise.
    """
    outline = survey.to_wall(outline_px)
    low, high = outline.min(axis=0), outline.max(axis=0)
    size = high - low
    height_px, width_px = pixels.shape[:2]
    inside = ((outline_px > 2) & (outline_px < [width_px - 3, height_px - 3])).all(axis=1)
    if not inside.any() or min(height_px, width_px) < 32:
        return False  # hardly in view
    # Far enough to hold the next repeat of a wallpaper (0.53 to 0.64 m, common practice).
    reach = max(2.2 * float(size.max()), _SEARCH_MM)
    span = np.array([low - reach, high + reach])
    ground = CoarseWall(pixels, survey, span)
    hole = ground.hole(outline)
    if not hole.any():
        return False
    barred = hole | ~ground.seen
    for other in avoid_px:
        barred |= ground.inside(survey.to_wall(other), 25.0)
    offset = ground.best_offset(hole, barred)
    if offset is None:
        return False
    offset = _refined(pixels, survey, ground, barred, hole, offset)
    _copy(pixels, survey, ground, hole, offset)
    return True


def _refined(
    pixels: PixelsRgb,
    survey: Survey,
    ground: CoarseWall,
    barred: Mask,
    hole: Mask,
    offset: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Offset to a quarter of a cell, by comparing the hem with its copy in the photo itself."""
    hem = ground.hem(hole, barred, 40.0)
    points = np.c_[ground.x_mm[hem], ground.y_mm[hem]]
    points = points[:: max(1, len(points) // 500)]
    if len(points) < 30:
        return offset
    tries = np.arange(-4, 5) * ground.step_mm / 4
    shifts = np.array([[dx, dy] for dx in tries for dy in tries])
    moved = (points[None] + offset + shifts[:, None]).reshape(-1, 2)
    region = Region.around(survey.to_photo(np.r_[points, moved]), 3, pixels.shape)
    if region.empty:
        return offset
    patch = to_linear(np.ascontiguousarray(pixels[region.slices])).mean(axis=2)
    patch = np.log(np.maximum(cv2.GaussianBlur(patch, (0, 0), 1.0), 1e-3))

    def look(at_mm: PointsMm, rows: int) -> NDArray[np.float32]:
        px = (survey.to_photo(at_mm) - [region.x, region.y]).astype(np.float32)
        px = px.reshape(rows, -1, 2)
        seen = cv2.remap(patch, px[..., 0], px[..., 1], cv2.INTER_LINEAR)
        return np.asarray(seen - seen.mean(axis=1, keepdims=True), np.float32)

    misfit = ((look(moved, len(shifts)) - look(points, 1)) ** 2).mean(axis=1)
    misfit = misfit + 1e-6 * (shifts**2).sum(axis=1)
    return np.asarray(offset + shifts[int(np.argmin(misfit))])


def _copy(
    pixels: NDArray[np.uint8],
    survey: Survey,
    ground: CoarseWall,
    hole: Mask,
    offset: NDArray[np.float64],
) -> None:
    """Copy wall from the hole shifted by ``offset``, its light bent to the hole's surroundings."""
    rim = np.c_[ground.x_mm[hole], ground.y_mm[hole]]
    region = Region.around(survey.to_photo(rim), 4, pixels.shape)
    if region.empty:
        return
    lines = sight_lines(survey, region)
    step = 8
    # Where each pixel's copy lies: solved at nodes and interpolated, as the sight lines are.
    gy, gx = np.mgrid[0 : region.height + step : step, 0 : region.width + step : step]
    nodes = survey.to_wall(np.c_[gx.ravel() + region.x, gy.ravel() + region.y]) + offset
    source = survey.to_photo(nodes).reshape(*gx.shape, 2)
    rows = np.arange(region.height, dtype=np.float32)[:, None] / step
    columns = np.arange(region.width, dtype=np.float32)[None, :] / step
    shape = (region.height, region.width)
    u, v = (
        cv2.remap(
            source[..., i].astype(np.float32),
            np.broadcast_to(columns, shape).copy(),
            np.broadcast_to(rows, shape).copy(),
            cv2.INTER_LINEAR,
        )
        for i in (0, 1)
    )
    from_region = Region.around(source.reshape(-1, 2), 4, pixels.shape)
    if from_region.empty:
        return
    copied = cv2.remap(
        np.ascontiguousarray(pixels[from_region.slices]),
        u - np.float32(from_region.x),
        v - np.float32(from_region.y),
        cv2.INTER_LANCZOS4,
        borderMode=cv2.BORDER_REFLECT_101,
    )
    bend = ground.at(_bend(ground, hole, offset), lines)
    feathered = np.asarray(cv2.GaussianBlur(hole.astype(np.float32), (0, 0), 0.8), np.float32)
    cover = ground.at(feathered, lines)
    cover = np.clip(2 * cover, 0, 1)[..., None]
    target = pixels[region.slices]
    here = to_linear(np.ascontiguousarray(target))
    filled = to_linear(np.asarray(copied, np.uint8)) * np.exp(bend)
    mixed = to_pixels(here + cover * (filled - here))
    changed = cover[..., 0] > 0
    target[changed] = mixed[changed]


def _bend(ground: CoarseWall, hole: Mask, offset: NDArray[np.float64]) -> NDArray[np.float32]:
    """Log ratio of light, hole against copy: known around the hole, carried smoothly across it."""
    shift = np.array(
        [[1, 0, offset[0] / ground.step_mm], [0, 1, -offset[1] / ground.step_mm]], np.float32
    )
    copy = cv2.warpAffine(
        ground.log,
        shift,
        (ground.columns, ground.rows),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    difference = np.clip(ground.log - copy, -0.7, 0.7)
    near = ground.hem(hole, hole | ~ground.seen, 45.0)
    # Where the copy's pattern differs, only its mean over a good stretch may be trusted.
    uneven = float(np.median(difference[near].std(axis=0))) if near.any() else 0.0
    finest_mm = 8.0 if uneven < 0.06 else 60.0
    return carried_across(difference, near.astype(np.float32), finest_mm / ground.step_mm)

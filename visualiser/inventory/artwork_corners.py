"""The four corners of a picture in a photo of it: found, or brought into order as clicked."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.errors import PieceError
from visualiser.geometry import PointsPx
from visualiser.photo.photo import PixelsRgb
from visualiser.raster import resized_px
from visualiser.statistics import robust_sigma

_WORKING_SIDE_PX = 700


def find_quadrilateral(pixels: PixelsRgb) -> PointsPx | None:
    """Corners (4, 2) of the picture that stands out from its ground; None when none does.

    What differs from the photo's rim is taken for the picture; its hull is cut down to four
    sides, and each side is fitted to the steepest edge along it.
    """
    scale = min(1.0, _WORKING_SIDE_PX / max(pixels.shape[:2]))
    size = (max(round(pixels.shape[1] * scale), 1), max(round(pixels.shape[0] * scale), 1))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    lab = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), np.float32)
    lab = np.asarray(cv2.GaussianBlur(lab, (0, 0), 1.2), np.float32)
    rim = max(4, round(0.02 * min(size)))
    ground = np.concatenate(
        [lab[:rim].reshape(-1, 3), lab[-rim:].reshape(-1, 3), lab[:, :rim].reshape(-1, 3)]
        + [lab[:, -rim:].reshape(-1, 3)]
    )
    middle = np.median(ground, axis=0)
    spread = robust_sigma(ground - middle, axis=0) + 3.0
    away = np.sqrt((((lab - middle) / spread) ** 2).sum(axis=2))
    mask = (away > 5).astype(np.uint8)
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    contours, _ = cv2.findContours(np.asarray(mask), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        return None
    largest = max(contours, key=cv2.contourArea)
    area = cv2.contourArea(largest)
    if area < 0.05 * size[0] * size[1]:
        return None
    corners = _four_sides(np.asarray(cv2.convexHull(largest), np.int32))
    if corners is None:
        return None
    quad_area = cv2.contourArea(corners.astype(np.float32))
    if not 0.9 < area / max(quad_area, 1.0) < 1.05:
        return None  # not a quadrilateral: the hull leaves too much, or cuts too much off
    refined = _refined_sides(lab, corners)
    return resized_px(refined, 1 / scale)


def _four_sides(hull: NDArray[np.int32]) -> PointsPx | None:
    length = cv2.arcLength(hull, True)
    for share in np.arange(0.01, 0.12, 0.005):
        polygon = cv2.approxPolyDP(hull, share * length, True)
        if len(polygon) == 4:
            return np.asarray(polygon.reshape(4, 2), float)
        if len(polygon) < 4:
            return None
    return None


def _refined_sides(lab: NDArray[np.float32], corners: PointsPx) -> PointsPx:
    """Move each side to the steepest colour edge near it, by a robust line fit."""
    lines = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = (end - start) / np.linalg.norm(end - start)
        normal = np.array([-along[1], along[0]])
        t = np.linspace(0.08, 0.92, 120)[:, None, None]
        d = np.arange(-6, 6.01, 0.25)
        points = start + t * (end - start) + d[None, :, None] * normal
        seen = cv2.remap(
            lab,
            points[..., 0].astype(np.float32),
            points[..., 1].astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        step = np.linalg.norm(seen[:, 4:] - seen[:, :-4], axis=2)
        peak = step.argmax(axis=1)
        strong = step.max(axis=1) > 0.4 * np.median(step.max(axis=1))
        offsets = d[2:-2][peak]
        # A straight line through the offsets, twice, without the strays.
        where = t[:, 0, 0]
        for _ in range(3):
            fit = np.polyfit(where[strong], offsets[strong], 1)
            miss = np.abs(offsets - np.polyval(fit, where))
            strong = miss < max(0.5, 2.5 * float(np.median(miss[strong])))
            if strong.sum() < 12:
                return corners
        begin, finish = np.polyval(fit, [0, 1])
        lines.append((start + begin * normal, end + finish * normal))
    out = []
    for (a, b), (c, d2) in zip(lines[-1:] + lines[:-1], lines, strict=True):
        one, other = np.cross([*a, 1], [*b, 1]), np.cross([*c, 1], [*d2, 1])
        meet = np.cross(one, other)
        if abs(meet[2]) < 1e-9:
            return corners
        out.append(meet[:2] / meet[2])
    return np.array(out)


def in_order(corners_px: PointsPx) -> PointsPx:
    """Corners sorted: top-left, top-right, bottom-right, bottom-left.

    Raises
    ------
    PieceError
        If they are not four corners of a convex quadrilateral of some size.
    """
    points = np.asarray(corners_px, float)
    if points.shape != (4, 2) or not np.isfinite(points).all():
        raise PieceError("A picture has four corners.", hint="Click each of its corners once.")
    centre = points.mean(axis=0)
    around = np.argsort(np.arctan2(*(points - centre).T[::-1]))  # clockwise, y pointing down
    points = points[around]
    start = int(np.argmin(points.sum(axis=1)))
    points = np.roll(points, -start, axis=0)
    sides = np.roll(points, -1, axis=0) - points
    turns = np.cross(np.c_[sides, np.zeros(4)], np.c_[np.roll(sides, -1, axis=0), np.zeros(4)])
    if (turns[:, 2] <= 0).any() or np.linalg.norm(sides, axis=1).min() < 8:
        raise PieceError(
            "The four corners do not make a picture.", hint="Click each of its corners once."
        )
    return np.asarray(points)

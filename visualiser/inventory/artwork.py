"""From a photo or scan of an artwork to the picture itself: flat, of true shape, neutral.

References
----------
Z. Zhang, L.-W. He, "Whiteboard scanning and image enhancement", Digital Signal Processing 17(2),
2007, section 3: shape and focal length of a rectangle from one perspective view.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.errors import PhotoError, PieceError
from visualiser.findings import Finding
from visualiser.geometry import Matrix, PointsPx
from visualiser.inventory.piece import Artwork
from visualiser.photo.decoding import load_photo
from visualiser.photo.limits import PhotoLimits
from visualiser.photo.linear_light import to_linear, to_pixels
from visualiser.photo.photo import PixelsRgb

LEAST_SIDE_PX = 16
LIMITS = PhotoLimits(file_bytes=150_000_000, pixels=150_000_000)
"""Scans are larger than photos; 150 megapixels are a metre at 300 dpi."""
_WORKING_SIDE_PX = 700
_PAPER_LIGHT = 0.86  # what a white border is brought to: paper, not the screen's white


@dataclass(frozen=True, slots=True, eq=False)
class SquaredUp:
    """A flat picture cut out of a photo.

    Parameters
    ----------
    artwork
        The picture.
    corners_px
        (4, 2) where it was in the photo: top-left, top-right, bottom-right, bottom-left.
    aspect
        Width over height.
    aspect_relative_sigma
        Standard uncertainty of the aspect as a fraction; 0 where it was given.
    findings
        Glare, doubts about the shape.
    """

    artwork: Artwork
    corners_px: PointsPx
    aspect: float
    aspect_relative_sigma: float
    findings: tuple[Finding, ...] = ()


def load_artwork(data: bytes, name: str = "") -> Artwork:
    """Decode an artwork's file; transparent parts become white paper.

    Raises
    ------
    PieceError
        If it is no picture, too large, or too small to be one.
    """
    try:
        photo = load_photo(data, LIMITS)
    except PhotoError as reason:
        raise PieceError(
            f"Artwork {name or 'file'}: {reason.message}", hint=reason.hint
        ) from reason
    if min(photo.width_px, photo.height_px) < LEAST_SIDE_PX:
        raise PieceError(
            f"Artwork {name or 'file'} is only {photo.width_px} x {photo.height_px} px.",
            hint="Use a scan or photo of at least a few hundred pixels a side.",
        )
    return Artwork(photo.pixels, name, photo.digest)


def square_up(
    pixels: PixelsRgb,
    corners_px: PointsPx | None = None,
    *,
    aspect: float | None = None,
    focal_px: float | None = None,
    neutralise: bool = True,
    name: str = "",
) -> SquaredUp:
    """Cut the picture out of a photo of it and turn it square on.

    Parameters
    ----------
    pixels
        (H, W, 3) the photo.
    corners_px
        (4, 2) corners as clicked, in any order; found when None.
    aspect
        Width over height where the size is known; recovered from the perspective when None.
    focal_px
        Focal length as the file states it; worked out from the perspective, or taken as usual
        for a phone, when None.
    neutralise
        Bring a white border to neutral white.
    name
        Of the artwork.

    Raises
    ------
    PieceError
        If no picture is found, or the corners are no quadrilateral.
    """
    height, width = pixels.shape[:2]
    if min(width, height) < LEAST_SIDE_PX:
        raise PieceError(
            f"The photo is only {width} x {height} px.", hint="Use a larger photo of the artwork."
        )
    if corners_px is None:
        corners_px = find_quadrilateral(pixels)
        if corners_px is None:
            raise PieceError(
                "No picture with four straight sides stands out in the photo.",
                hint="Click its four corners, or photograph it on a plain, contrasting ground.",
            )
    corners = in_order(corners_px)
    findings: list[Finding] = []
    sigma = 0.0
    if aspect is None:
        aspect, sigma = aspect_from_perspective(corners, width, height, focal_px)
        if sigma > 0.02:
            findings.append(
                Finding(
                    "advice",
                    f"The picture's shape is only known to ± {200 * sigma:.0f} % from this angle.",
                    "Give its measured width and height, or photograph it more squarely.",
                    code="aspect-uncertain",
                )
            )
    elif not 0.02 < aspect < 50:
        raise PieceError(
            f"A picture {aspect:g} times as wide as high is not possible here.",
            hint="Check its width and height.",
        )
    flat = _flattened(pixels, corners, aspect)
    if (share := glare_share(flat)) > 0.002:
        findings.append(
            Finding(
                "advice",
                f"A bright reflection hides about {100 * share:.1f} % of the picture.",
                "Photograph it again from a little to the side, or turn off the light behind you.",
                code="glare",
            )
        )
    if neutralise and (white := border_white(flat)) is not None:
        flat = neutralised(flat, white)
    return SquaredUp(Artwork(flat, name), corners, aspect, sigma, tuple(findings))


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


def aspect_from_perspective(
    corners_px: PointsPx, width_px: int, height_px: int, focal_px: float | None = None
) -> tuple[float, float]:
    """Width over height of a rectangle seen in perspective, and its relative uncertainty.

    The uncertainty carries half a pixel of each corner and, where the focal length is only
    assumed, a fifth of it.
    """
    centre = np.array([(width_px - 1) / 2, (height_px - 1) / 2])
    prior = focal_px or 0.75 * max(width_px, height_px)
    focal_sigma = 0.03 if focal_px else 0.2

    def shape(points: PointsPx, focal: float) -> float:
        h = _unit_square_to(points - centre)
        across, up = h[:, 0], h[:, 1]
        k = np.array([1 / focal, 1 / focal, 1.0])
        return float(np.linalg.norm(k * across) / np.linalg.norm(k * up))

    focal = prior
    if focal_px is None:
        found = _focal_from_perspective(corners_px - centre)
        if found is not None and 0.4 < found / prior < 2.5:
            focal, focal_sigma = found, 0.1
    value = shape(corners_px, focal)
    variance = (math.log(shape(corners_px, focal * (1 + focal_sigma)) / value)) ** 2
    for i in range(8):
        moved = corners_px.copy()
        moved.flat[i] += 0.5
        variance += math.log(shape(moved, focal) / value) ** 2
    return value, math.sqrt(variance)


def _unit_square_to(points: PointsPx) -> Matrix:
    """Homography that takes the unit square (TL, TR, BR, BL) to four points."""
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    return np.asarray(cv2.getPerspectiveTransform(square, points.astype(np.float32)), float)


def _focal_from_perspective(centred_px: PointsPx) -> float | None:
    """Focal length that makes the rectangle's sides square; None when they are near parallel."""
    h = _unit_square_to(centred_px)
    a, b = h[:, 0], h[:, 1]
    if abs(a[2]) < 0.02 or abs(b[2]) < 0.02:  # both must recede clearly, or noise decides
        return None
    squared = -(a[0] * b[0] + a[1] * b[1]) / (a[2] * b[2])
    return math.sqrt(squared) if squared > 0 else None


def _flattened(pixels: PixelsRgb, corners: PointsPx, aspect: float) -> PixelsRgb:
    """Picture resampled once, at about its own resolution, from light averaged where it shrinks."""
    top, right, bottom, left = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    wide, high = max(top, bottom), max(left, right)
    # The longest sides keep their pixels; the other direction follows from the aspect.
    width = max(wide, high * aspect)
    scale = min(1.0, math.sqrt(40e6 / max(width * width / aspect, 1)))
    columns, rows = max(round(width * scale), 1), max(round(width * scale / aspect), 1)
    target = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], np.float32) - 0.5
    to_flat = cv2.getPerspectiveTransform(corners.astype(np.float32), target)
    flat = cv2.warpPerspective(
        pixels, to_flat, (columns, rows), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(flat, np.uint8)


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
    spread = 1.4826 * np.median(np.abs(ground - middle), axis=0) + 3.0
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
    return np.asarray((refined + 0.5) / scale - 0.5)


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


def glare_share(pixels: PixelsRgb) -> float:
    """Share of a picture lost in bright reflections: clipped, roundish and soft at their rim."""
    scale = min(1.0, 500 / max(pixels.shape[:2]))
    size = (max(round(pixels.shape[1] * scale), 1), max(round(pixels.shape[0] * scale), 1))
    least = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA).min(axis=2)
    clipped = (least >= 250).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(clipped)
    lost = 0
    for k in range(1, count):
        x, y, w, h, area = stats[k][:5]
        touches = x == 0 or y == 0 or x + w == size[0] or y + h == size[1]
        if area < 12 or touches or area > 0.2 * clipped.size:
            continue
        blob = (labels == k).astype(np.uint8)
        near = cv2.dilate(blob, np.ones((3, 3), np.uint8)) - blob
        beyond = cv2.dilate(blob, np.ones((9, 9), np.uint8)) - blob - near
        # A reflection fades out; white paint or paper ends.
        if least[near > 0].mean() > 215 and least[beyond > 0].mean() > 180:
            lost += int(area)
    return float(lost / clipped.size)


def border_white(pixels: PixelsRgb) -> NDArray[np.float32] | None:
    """Linear light (3,) of an even, bright border of unprinted paper; None without one."""
    rows, columns = pixels.shape[:2]
    deep = max(2, round(0.02 * min(rows, columns)))
    inner = deep // 2  # the very rim holds a trace of what lies behind
    strips = [
        pixels[inner : inner + deep, inner : columns - inner],
        pixels[rows - inner - deep : rows - inner, inner : columns - inner],
        pixels[inner : rows - inner, inner : inner + deep],
        pixels[inner : rows - inner, columns - inner - deep : columns - inner],
    ]
    light = [to_linear(np.ascontiguousarray(strip)).reshape(-1, 3) for strip in strips]
    whites = np.array([np.median(strip, axis=0) for strip in light])
    every = np.concatenate(light)
    middle = np.median(every, axis=0)
    even = np.abs(every - middle).max(axis=1) < 0.12 * middle.max()
    alike = np.abs(whites / middle - 1).max() < 0.15
    coloured = middle.max() / max(float(middle.min()), 1e-3) > 1.7
    if even.mean() < 0.9 or not alike or coloured or middle.mean() < 0.25:
        return None
    return np.asarray(middle, np.float32)


def neutralised(pixels: PixelsRgb, white: NDArray[np.float32]) -> PixelsRgb:
    """Picture whose paper, of the given linear light, becomes neutral paper white."""
    gain = np.float32(_PAPER_LIGHT) / np.maximum(white, 1e-3)
    return to_pixels(to_linear(np.ascontiguousarray(pixels)) * gain.astype(np.float32))

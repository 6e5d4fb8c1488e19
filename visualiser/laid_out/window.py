"""Within a frame: its moulding's inner edge, its mat, and the window in which the picture shows."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.laid_out.box import PieceBox
from visualiser.photo.photo import Photo
from visualiser.rectification.plane import WallPlane

Array = NDArray[np.float64]

LONG_SIDE = 420
"""Samples along the longer side of the straight-on front that is looked at."""
LIP_REACH_MM = 6.0
EVEN = 7.0
"""Scatter, in Lab units, up to which a band is one mat's."""
LEAVES = 9.0
"""Difference from the mat's colour, in Lab units, from which a place is the picture's."""
SHARE = 0.3
"""Share of a line that has to leave the mat's colour for the window to begin there."""
SHIFTED = 4.5
"""The same for the middle of a line's colours, whose noise is averaged: pale paper in a mat."""
SLIMMEST_MAT_MM = 8.0
BLUR_MM = 3.0
"""How far from where a colour is left the edge itself may lie."""

BLANK_SIDE = 48
BLANK_LAB = 2.0
"""Scatter, in Lab units about a smooth fall of light, below which a window shows no picture."""


class Front(NamedTuple):
    """Insets (mm) of lip and window at the top, right, bottom and left, and Lab of rail and mat."""

    lip_mm: Array
    window_mm: Array
    rail_lab: Array
    mat_lab: Array


def see_front(photo: Photo, plane: WallPlane, box: PieceBox) -> tuple[NDArray[np.uint8], float]:
    """See a piece's front straight-on, (H, W, 3), and how many mm one of its samples covers."""
    step = max(box.width_mm, box.height_mm) / LONG_SIDE
    columns = max(round(box.width_mm / step), 16)
    rows = max(round(box.height_mm / step), 16)
    corners = plane.project(box.corners(box.depth_mm)).astype(np.float32)
    target = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], np.float32) - 0.5
    low = np.maximum(np.floor(corners.min(axis=0)).astype(int) - 2, 0)
    high = np.ceil(corners.max(axis=0)).astype(int) + 3
    part = photo.pixels[low[1] : high[1], low[0] : high[0]]
    shrink = float(np.ptp(corners, axis=0).max()) / LONG_SIDE
    if shrink > 1.4:
        part = np.asarray(cv2.GaussianBlur(part, (0, 0), 0.4 * shrink), np.uint8)
    to_front = cv2.getPerspectiveTransform((corners - low).astype(np.float32), target)
    flat = cv2.warpPerspective(
        part, to_front, (columns, rows), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(flat, np.uint8), float(step)


def read_front(pixels: NDArray[np.uint8], step_mm: float, rail_mm: float) -> Front:
    """Find lip, mat and window from without inwards, each side for itself.

    Parameters
    ----------
    pixels, step_mm
        The front, as `see_front` gives it.
    rail_mm
        About how wide the moulding is; 0 where none was seen.
    """
    scaled = pixels.astype(np.float32) / np.float32(255)
    lab = np.asarray(cv2.cvtColor(scaled, cv2.COLOR_RGB2LAB), np.float32)
    bands = [_band(lab, side) for side in range(4)]
    lip = np.array([_lip(band, rail_mm, step_mm) for band in bands])
    rail = np.median(lab.reshape(-1, 3), axis=0)
    if rail_mm > 0:
        parts = [_strip(b, 0.25 * r, 0.75 * r, step_mm) for b, r in zip(bands, lip, strict=True)]
        rail = np.median(np.concatenate(parts), axis=0)
    strips = [_strip(b, r + 4.0, r + 8.0, step_mm) for b, r in zip(bands, lip, strict=True)]
    medians = np.array([np.median(s, axis=0) for s in strips])
    uneven = [
        float(np.abs(strip - median).mean(axis=0).sum())
        for strip, median in zip(strips, medians, strict=True)
    ]
    # On one side the lip's shadow may lie.
    scatter = sorted(uneven)[2]
    mat = np.median(medians, axis=0)
    apart = float(np.linalg.norm(medians - mat, axis=1).max())
    window = lip + (1.0 if rail_mm > 0 else 0.0)
    if rail_mm > 0 and scatter < EVEN and apart < 12:
        inner = np.array(
            [_leaves(b, m, r + 6.0, step_mm) for b, m, r in zip(bands, medians, lip, strict=True)]
        )
        if (inner - lip > SLIMMEST_MAT_MM).all():
            window = np.array(
                [_midway(b, m, w, step_mm) for b, m, w in zip(bands, medians, inner, strict=True)]
            )
    return Front(lip, window, np.asarray(rail, float), np.asarray(mat, float))


def _band(lab: NDArray[np.float32], side: int) -> NDArray[np.float32]:
    """Lab (depth, along, 3) from a side inwards, the middle half of the side."""
    turned = np.rot90(lab, side)
    rows, columns = turned.shape[:2]
    return turned[: rows // 2, columns // 4 : columns - columns // 4]


def _strip(band: NDArray[np.float32], start_mm: float, end_mm: float, step_mm: float) -> Array:
    first = int(np.clip(start_mm / step_mm, 0, len(band) - 1))
    last = int(np.clip(end_mm / step_mm, first + 1, len(band)))
    return np.asarray(band[first:last].reshape(-1, 3), float)


def _lip(band: NDArray[np.float32], rail_mm: float, step_mm: float) -> float:
    """Where the moulding ends: about its width within, its colour is left."""
    if rail_mm <= 0:
        return 0.0
    rail = np.median(_strip(band, 0.3 * rail_mm, 0.7 * rail_mm, step_mm), axis=0)
    start = max(rail_mm - LIP_REACH_MM, 0.6 * rail_mm)
    found = _leaves(band, rail, start, step_mm, share=0.5)
    if not start < found < rail_mm + LIP_REACH_MM:
        return rail_mm
    return _midway(band, rail, found, step_mm)


def _leaves(
    band: NDArray[np.float32], colour: Array, start_mm: float, step_mm: float, share: float = SHARE
) -> float:
    """Where a colour is left by a share of a line's places."""
    away = np.linalg.norm(band - colour.astype(np.float32), axis=2)
    left = (away > LEAVES).mean(axis=1)
    first = int(start_mm / step_mm)
    shifted = np.linalg.norm(np.median(band, axis=1) - colour, axis=1) > SHIFTED
    beyond = np.flatnonzero((left[first:] > share) | shifted[first:])
    if not len(beyond):
        return start_mm
    return float((first + beyond[0]) * step_mm)


def _midway(band: NDArray[np.float32], before: Array, at_mm: float, step_mm: float) -> float:
    """Where a line's colour is half-way from one band's to the next's, near where it leaves it.

    Where a colour is left depends on the contrast: a strong edge's blur is left early, a weak
    edge's late. Half-way does not.
    """
    middle = np.asarray(np.median(band, axis=1), float)
    at = round(at_mm / step_mm)
    reach = max(round(BLUR_MM / step_mm), 2)
    low, high = max(at - reach, 0), at + reach
    beyond = middle[high : high + reach]
    if not len(beyond):
        return at_mm
    change = np.median(beyond, axis=0) - before
    size = float(change @ change)
    if size < SHIFTED**2:
        return at_mm
    share = (middle[low : high + 1] - before) @ change / size
    crossed = np.flatnonzero((share[1:] >= 0.5) & (share[:-1] < 0.5))
    if not len(crossed):
        return at_mm
    k = int(crossed[0])
    part = (0.5 - share[k]) / (share[k + 1] - share[k])
    return float((low + k + part + 0.5) * step_mm)


def window_corners(plane: WallPlane, box: PieceBox, insets_mm: Array) -> PointsPx:
    """Photo px (4, 2) of a rectangle within a piece's front, clockwise from the top left."""
    top, right, bottom, left = insets_mm
    w, h = box.width_mm / 2, box.height_mm / 2
    x, y = (-w + left, w - right), (h - top, -h + bottom)
    local = np.array([[x[0], y[0]], [x[1], y[0]], [x[1], y[1]], [x[0], y[1]]])
    c, s = np.cos(np.radians(box.tilt_deg)), np.sin(np.radians(box.tilt_deg))
    flat = local @ np.array([[c, -s], [s, c]]).T + [box.x_mm, box.y_mm]
    return plane.project(np.c_[flat, np.full(4, box.depth_mm)])


def shows_nothing(pixels: NDArray[np.uint8]) -> bool:
    """Tell whether nothing but a smooth fall of light is seen in a window (H, W, 3)."""
    small = cv2.resize(pixels, (BLANK_SIDE, BLANK_SIDE), interpolation=cv2.INTER_AREA)
    lab = cv2.cvtColor(small.astype(np.float32) / np.float32(255), cv2.COLOR_RGB2LAB)
    seen = np.asarray(lab, float).reshape(-1, 3)
    x, y = (axis.ravel() for axis in np.meshgrid(*[np.linspace(-1, 1, BLANK_SIDE)] * 2))
    smooth = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
    left = seen - smooth @ np.linalg.lstsq(smooth, seen, rcond=None)[0]
    return float(np.sqrt((left**2).sum(axis=1).mean())) < BLANK_LAB

"""Which artwork is seen in a frame, by comparing it with the pictures themselves."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.hanging.frame_box import HungFrame, box_corners
from visualiser.inventory.moulding_section import picture_depth_mm
from visualiser.inventory.piece import Artwork, Piece
from visualiser.photo.photo import PixelsRgb
from visualiser.rectification.plane import WallPlane

Array = NDArray[np.float64]

GRID = 36
"""Pictures are compared at this many points a side: composition, not grain."""


PLAIN = 0.02
"""Standard deviation, of white, below which a picture has nothing to be told by."""


def picture_of(piece: Piece) -> Array | None:
    """Reduce a piece's picture to be compared; None without one, or where it is all but plain."""
    if piece.artwork is None:
        return None
    picture = as_seen(piece.artwork, piece)
    return picture if float(picture.std(axis=(0, 1)).max()) > PLAIN else None


def seen_in(pixels: PixelsRgb, plane: WallPlane, frame: HungFrame, piece: Piece) -> Array:
    """Cut out what is seen in a frame's window, (GRID, GRID, 3), top row first, 0 to 1."""
    rail = piece.moulding.width_mm if piece.moulding else 0.0
    sides = rail + (piece.mat.sides_mm if piece.mat else 0.0)
    top = rail + (piece.mat.top_mm if piece.mat else 0.0)
    bottom = rail + (piece.mat.bottom_mm if piece.mat else 0.0)
    # Corner order top-left, top-right, bottom-right, bottom-left: bilinear in the picture's depth.
    place = np.array([frame.x_mm, frame.y_mm, frame.tilt_deg, frame.lean_deg])
    corners = box_corners(frame, place, picture_depth_mm(piece))
    u = (sides + (np.arange(GRID) + 0.5) / GRID * (frame.width_mm - 2 * sides)) / frame.width_mm
    v = (top + (np.arange(GRID) + 0.5) / GRID * (frame.height_mm - top - bottom)) / frame.height_mm
    across, down = (a[..., None] for a in np.meshgrid(u, v))
    upper = corners[0] + across * (corners[1] - corners[0])
    lower = corners[3] + across * (corners[2] - corners[3])
    px = plane.project((upper + down * (lower - upper)).reshape(-1, 3)).reshape(GRID, GRID, 2)
    low = np.maximum(np.floor(px.min(axis=(0, 1))).astype(int) - 2, 0)
    high = np.ceil(px.max(axis=(0, 1))).astype(int) + 3
    part: NDArray[Any] = pixels[low[1] : high[1], low[0] : high[0]]
    if part.size == 0:
        return np.zeros((GRID, GRID, 3))
    step = max(float(np.ptp(px[..., 0])), float(np.ptp(px[..., 1]))) / GRID
    if step > 1.5:
        part = cv2.GaussianBlur(part, (0, 0), 0.45 * step)
    local = (px - low).astype(np.float32)
    seen = cv2.remap(part, local[..., 0], local[..., 1], cv2.INTER_LINEAR)
    return np.asarray(seen, float) / 255


def picture_to_scale(piece: Piece, step_mm: float) -> Array | None:
    """Reduce a piece's picture to one sample in ``step_mm`` of its window; None as above."""
    if picture_of(piece) is None or piece.artwork is None:
        return None
    columns, rows = (max(round(side / step_mm), 1) for side in piece.window_mm)
    return as_seen(piece.artwork, piece, (rows, columns))


def as_seen(artwork: Artwork, piece: Piece, grid: tuple[int, int] = (GRID, GRID)) -> Array:
    """Reduce an artwork to a grid of rows and columns, cropped to its window's aspect."""
    width, height = piece.window_mm
    pixels = artwork.pixels
    rows, columns = pixels.shape[:2]
    wanted = width / height
    if columns / rows > wanted:
        keep = max(round(rows * wanted), 1)
        start = (columns - keep) // 2
        pixels = pixels[:, start : start + keep]
    else:
        keep = max(round(columns / wanted), 1)
        start = (rows - keep) // 2
        pixels = pixels[start : start + keep]
    small = cv2.resize(
        np.ascontiguousarray(pixels), (grid[1], grid[0]), interpolation=cv2.INTER_AREA
    )
    return np.asarray(small, float) / 255


def likeness(seen: Array, artwork: Array) -> float:
    """Correlation of two pictures, -1 to 1, blind to a lamp's brightness and colour.

    Each channel's mean is taken off and its gain cancels in the quotient; channels count by the
    contrast that the artwork has in them. Glare is a minority of points and is let off.
    """
    a, b = seen.reshape(-1, 3), artwork.reshape(-1, 3)
    weight = np.ones(len(a))
    for last in (False, False, True):
        mean_a, mean_b = (np.average(x, axis=0, weights=weight) for x in (a, b))
        da, db = a - mean_a, b - mean_b
        cross = (weight[:, None] * da * db).sum(axis=0)
        if not last:
            gain = cross / np.maximum((weight[:, None] * db * db).sum(axis=0), 1e-9)
            left = np.abs(da - gain * db).max(axis=1)
            weight = (left <= np.quantile(left, 0.9)).astype(float)
    power = (weight[:, None] * da * da).sum(axis=0) * (weight[:, None] * db * db).sum(axis=0)
    total = float(np.sqrt(power).sum())
    return float(cross.sum() / total) if total > 1e-6 else 0.0

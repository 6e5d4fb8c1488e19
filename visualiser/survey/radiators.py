"""Ribbed radiators: upright stripes of one pitch, inside a low rectangle that hangs off the floor.

Ribs, columns and tubes all show the same: light that varies across, hardly up and down, over and
over at one distance. Wallpaper and boards do so too, but over the whole wall; a flat panel does
not, and looks like a board, so it is not found.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import Rect
from visualiser.photo.peaks import peak_offset
from visualiser.statistics import robust_sigma
from visualiser.survey.face_on import FaceOn
from visualiser.survey.rims import Box, out_to_rim

Map = NDArray[np.float32]

PITCHES_MM = (22.0, 85.0)
"""From rib to rib: pressed panels have 33 to 50 mm, columns and towel rails more (common practice,
no source)."""
WIDTHS_MM, HEIGHTS_MM = (320.0, 3000.0), (200.0, 1000.0)
FEET_MM = (20.0, 420.0)
"""How high its foot is above the floor: clear of it for the air to rise, or on short feet."""
ALONG_MM, ACROSS_MM = 120.0, 200.0
"""Height over which a stripe must go on, and width over which stripes must follow each other."""
UPRIGHT = 0.5
"""Share of the change across that goes on up and down: of grain and prints it is a tenth."""
LEAST_CONTRAST = 0.006
"""Least standard deviation of that change from pixel to pixel, in the logarithm of light."""
REPEATS, LEAST_REPEAT = 5, 0.45
"""So many ribs at least, and how alike the stripes are one rib further on (correlation)."""
FILLED = 0.75
BEYOND_MM = 75.0
"""A cover or an end piece may reach this far beyond the ribs."""


@dataclass(frozen=True, slots=True)
class Radiator:
    """A radiator as seen on the wall, how sure it is one (0 to 1), and its ribs' distance."""

    rect: Rect
    confidence: float
    pitch_mm: float


def find_radiators(view: FaceOn) -> list[Radiator]:
    """Find ribbed radiators in a wall seen face on from its floor up."""
    light = view.one_light
    stripes, upright = _stripes(light, view.mm_per_px)
    mask = (upright & view.seen).astype(np.uint8)
    # A bridge of a few ribs over a valve or a shadow; what is left must be broad.
    size = max(round(0.6 * ALONG_MM / view.mm_per_px), 3)
    closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((size, size), np.uint8))
    whole = cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((size, size), np.uint8))
    count, _, stats, _ = cv2.connectedComponentsWithStats(np.asarray(whole, np.uint8))
    found = []
    for index in range(1, count):
        column, row, width, height, area = (int(v) for v in stats[index])
        if area >= FILLED * width * height:
            radiator = _judged(view, light, stripes, (column, row, width, height))
            if radiator is not None:
                found.append(radiator)
    return sorted(found, key=lambda r: -r.confidence)


def _stripes(light: Map, mm_per_px: float) -> tuple[Map, NDArray[np.bool_]]:
    """How light changes across, and where most of the change goes on up and down."""
    along = max(round(ALONG_MM / mm_per_px), 3)
    across = max(round(ACROSS_MM / mm_per_px), 3)
    # Of changes, the panel's own side is one narrow spike; beside a running mean it would ring.
    fine = cv2.filter2D(cv2.blur(light, (1, 5)), -1, np.array([[-0.5, 0.0, 0.5]], np.float32))
    lasting = cv2.blur(fine, (1, along))
    total = cv2.blur(fine * fine, (across, along))
    kept = cv2.blur(lasting * lasting, (across, 1))
    upright = (kept > UPRIGHT * total) & (kept > LEAST_CONTRAST**2)
    return np.asarray(fine, np.float32), np.asarray(upright)


def _judged(view: FaceOn, light: Map, fine: Map, box: Box) -> Radiator | None:
    column, row, width, height = box
    # The mask reaches half a window beyond the ribs, over the panel's own edges.
    spill = round(ACROSS_MM / 2 / view.mm_per_px)
    column, width = column + spill, width - 2 * spill
    if width < 8:
        return None
    columns = slice(column, column + width)
    profile = np.median(fine[row : row + height, columns], axis=0)
    pitch, alike = _pitch(profile, view.mm_per_px)
    if pitch is None or width * view.mm_per_px < REPEATS * pitch:
        return None
    rows = _rows_with(profile, fine[:, columns], row, row + height)
    first, last = _columns_with(
        fine[rows[0] : rows[1]], column, column + width, pitch / view.mm_per_px
    )
    # The last stretch may hold the panel's own end: its edge is looked for from one rib before.
    rib = round(pitch / view.mm_per_px)
    ribs = (first + rib, rows[0], last - first - 2 * rib, rows[1] - rows[0])
    reach = rib + round(BEYOND_MM / view.mm_per_px)
    rect = view.to_rect(*out_to_rim(light, ribs, reach))
    if not (
        WIDTHS_MM[0] <= rect.width_mm <= WIDTHS_MM[1]
        and HEIGHTS_MM[0] <= rect.height_mm <= HEIGHTS_MM[1]
        and FEET_MM[0] <= rect.bottom_mm <= FEET_MM[1]
        and rect.width_mm > 0.6 * rect.height_mm
    ):
        return None
    return Radiator(rect, float(np.clip(0.45 + 0.5 * alike, 0, 0.9)), pitch)


def _pitch(profile: NDArray[np.floating], mm_per_px: float) -> tuple[float | None, float]:
    """Distance of the stripes in mm, and how well they repeat at it."""
    low, high = (round(v / mm_per_px) for v in PITCHES_MM)
    # The panel's own edges are steps far larger than its ribs: cut down to what ribs show.
    limit = 2.5 * float(robust_sigma(profile))
    values = np.clip(profile, -limit, limit)
    lags = np.arange(low, min(high, len(values) // 2) + 1)
    if len(lags) < 3 or not values.any():
        return None, 0.0
    alike = np.array([_alike(values[:-lag], values[lag:]) for lag in lags])
    peaks = [
        i
        for i in range(1, len(lags) - 1)
        if alike[i] >= alike[i - 1] and alike[i] > alike[i + 1] and alike[i] >= LEAST_REPEAT
    ]
    if not peaks:
        return None, 0.0
    # Twice the pitch repeats as well: the first that does nearly so is meant.
    best = next(i for i in peaks if alike[i] > 0.85 * max(alike[j] for j in peaks))
    return float((lags[best] + peak_offset(alike, best)) * mm_per_px), float(alike[best])


def _alike(one: NDArray[np.floating], other: NDArray[np.floating]) -> float:
    """Cosine of two stretches; 0 where one of them is flat."""
    size = float(np.linalg.norm(one) * np.linalg.norm(other))
    return float(one @ other) / size if size > 0 else 0.0


def _rows_with(profile: NDArray[np.floating], fine: Map, first: int, last: int) -> tuple[int, int]:
    """From which row to which the stripes go on: their share of the profile stays above half."""
    share = fine @ profile.astype(np.float32) / float(profile @ profile)
    share = np.asarray(cv2.blur(share.reshape(-1, 1), (1, 3)), np.float32).ravel()
    usual = float(np.median(share[first:last]))
    on = share > 0.5 * usual
    middle = (first + last) // 2
    top, bottom = middle, middle
    while top > 0 and on[max(top - 3, 0) : top].any():
        top -= 1
    while bottom < len(on) and on[bottom : bottom + 3].any():
        bottom += 1
    return top, bottom


def _columns_with(fine: Map, first: int, last: int, pitch_px: float) -> tuple[int, int]:
    """From which column to which each rib looks like the one before it."""
    profile = np.median(fine, axis=0)
    step = max(round(pitch_px), 2)
    left, right = first, last
    while left >= step and _alike(profile[left - step : left], profile[left : left + step]) > 0.5:
        left -= step
    while right + step <= len(profile) and (
        _alike(profile[right : right + step], profile[right - step : right]) > 0.5
    ):
        right += step
    return left, right

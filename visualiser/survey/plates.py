"""Plain little rectangles on the wall of the sizes that switches and sockets have.

White on white they differ from the wall by their edges' shadows only, and those are left alone: a
plate counts when all of it is lighter or darker than the wall around, on all four sides, by more
than the wall's own pattern makes out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm, Rect
from visualiser.statistics import robust_sigma
from visualiser.survey.face_on import FaceOn

Array = NDArray[np.float64]

PLATES_MM = (
    (86.0, 86.0),
    (146.0, 86.0),
    (80.0, 80.0),
    (151.0, 80.0),
    (80.0, 151.0),
    (70.0, 114.0),
    (116.0, 114.0),
)
"""Width and height: single and double of the United Kingdom (BS 4662 boxes), of the Continent
(DIN 49075, 71 mm centres), and one and two gangs of the United States (ANSI/NEMA WD 6): all from
memory."""
SIZE_SLACK_MM = 9.0
"""A plate's rounded rim and its shadow, and two pixels of the view."""
LEAST_STEP, STEP_SIGMAS = 0.06, 4.0
"""Least difference from the wall: in the logarithm of light, and in the wall's own variation."""
CUTS = (0.04, 0.08, 0.16, 0.32, 0.64, 1.28)
"""Differences at which outlines are drawn; the one near half a plate's own shows its true size."""
HALFWAY = (0.28, 0.72)
FILLED = 0.86
"""Share of its rectangle that a plate covers; holes and a rocker are bridged first."""
MOST_PLATES = 6
"""More than this on one wall are its pattern."""
RIM_MM = (12.0, 34.0)
"""Between these distances outside a plate only wall is seen."""


@dataclass(frozen=True, slots=True)
class Plate:
    """A plate found, and how sure it is one (0 to 1)."""

    rect: Rect
    confidence: float


def find_plates(view: FaceOn, reference_mm: PointsMm) -> list[Plate]:
    """Find plates on a wall seen face on, away from the reference."""
    light = view.one_light
    ground = _ground(light, view)
    step = light - ground
    free = view.seen & ~view.covered(reference_mm, 1.25)
    found: list[Plate] = []
    for cut in CUTS:
        for sign in (1.0, -1.0):
            mask = ((sign * step > cut) & free).astype(np.uint8)
            closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
            for box in _boxes(np.asarray(closed, np.uint8)):
                plate = _judged(view, light, box, sign, cut)
                if plate is not None:
                    found.append(plate)
    found.sort(key=lambda plate: -plate.confidence)
    apart: list[Plate] = []
    for plate in found:
        if not any(plate.rect.overlaps(other.rect) for other in apart):
            apart.append(plate)
    return apart if len(apart) <= MOST_PLATES else []


def _ground(light: NDArray[np.float32], view: FaceOn) -> NDArray[np.float32]:
    """Take the wall behind small things: a median far wider than a plate."""
    low, high = np.percentile(light, [0.5, 99.5])
    span = max(float(high - low), 1e-3)
    half = cv2.resize(light, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    codes = np.clip((half - low) / span * 255, 0, 255).astype(np.uint8)
    reach = 2 * round(380.0 / view.mm_per_px / 4) + 1
    smooth = cv2.medianBlur(codes, reach).astype(np.float32) / 255 * span + float(low)
    return np.asarray(
        cv2.resize(smooth, light.shape[::-1], interpolation=cv2.INTER_LINEAR), np.float32
    )


def _boxes(mask: NDArray[np.uint8]) -> Iterator[tuple[int, int, int, int]]:
    """Column, row, width and height of what covers its upright rectangle."""
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    for contour in contours:
        column, row, width, height = cv2.boundingRect(contour)
        if cv2.contourArea(contour) > FILLED * (width - 1) * (height - 1) > 0:
            yield column, row, width, height


def _judged(
    view: FaceOn,
    light: NDArray[np.float32],
    box: tuple[int, int, int, int],
    sign: float,
    cut: float,
) -> Plate | None:
    column, row, width, height = box
    rect = view.to_rect(column, row, width, height)
    off = [max(abs(rect.width_mm - w), abs(rect.height_mm - h)) for w, h in PLATES_MM]
    if min(off) > SIZE_SLACK_MM:
        return None
    near, far = (round(v / view.mm_per_px) for v in RIM_MM)
    inside = light[row + 3 : row + height - 3, column + 3 : column + width - 3]
    bands = [
        (slice(row - far, row - near), slice(column, column + width)),
        (slice(row + height + near, row + height + far), slice(column, column + width)),
        (slice(row, row + height), slice(column - far, column - near)),
        (slice(row, row + height), slice(column + width + near, column + width + far)),
    ]
    if min(band.start for pair in bands for band in pair) < 0:
        return None
    around = [light[band] for band in bands]
    if any(a.size < 20 or not view.seen[b].all() for a, b in zip(around, bands, strict=True)):
        return None
    level, spread = _level(inside)
    sides = [_level(a) for a in around]
    steps = [sign * (level - s[0]) for s in sides]
    pattern = float(np.hypot(np.median([s[1] for s in sides]), spread))
    least = min(steps)
    # Wall on all four sides of a plate is the same wall.
    if least < LEAST_STEP or np.ptp([s[0] for s in sides]) > 0.6 * least:
        return None
    if not HALFWAY[0] * np.median(steps) < cut < HALFWAY[1] * np.median(steps):
        return None
    sureness = least / (STEP_SIGMAS * max(pattern, 0.01))
    if sureness < 1:
        return None
    return Plate(rect, float(np.clip(0.55 + 0.15 * np.log2(sureness) + 0.1, 0, 0.9)))


def _level(light: NDArray[np.float32]) -> tuple[float, float]:
    """Median and robust standard deviation."""
    level = float(np.median(light))
    return level, float(robust_sigma(light - level))

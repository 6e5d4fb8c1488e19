"""Windows by day: upright rectangles brighter than white paper on the same wall could ever look.

Nothing that hangs on a wall sends back more light than falls on it, and a white sheet sends back
nearly all. What is clearly brighter lets light through. At night, or where the sheet itself is
overexposed, nothing can be measured.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from visualiser.geometry import PointsMm, Rect
from visualiser.survey.face_on import FaceOn
from visualiser.survey.rims import out_to_rim

BRIGHTER = 0.25
"""By how much, as a logarithm, glass must exceed the sheet: paper sends back 0.87 of the light, the
whitest paint 0.9, and the wall may be lit by a tenth better there."""
SHEET_CLIPPED = 0.72
"""Linear light of a sheet above which there is no room in the picture for anything brighter."""
LEAST_PAPER = 9
"""Pixels of the sheet that must be seen."""
BAR_MM = 90.0
"""Width of glazing bars and meeting rails that part the panes of one window."""
WIDTHS_MM, HEIGHTS_MM, LEAST_SILL_MM = (300.0, 3200.0), (350.0, 2300.0), 150.0
"""Sizes of glass, and its least height above the floor; lower glass is a door (common practice,
no source)."""
FILLED = 0.8
"""Share of its upright rectangle that the bright part covers: shades and lamps are rounder."""
FRAME_MM = 180.0
"""Sash, casing and sill reach at most so far beyond the glass, and are kept clear too."""


@dataclass(frozen=True, slots=True)
class Window:
    """A window found with its frame, how sure it is one (0 to 1), and its glass over the sheet."""

    rect: Rect
    confidence: float
    times_brighter: float


def find_windows(view: FaceOn, reference_mm: PointsMm) -> list[Window]:
    """Find windows in a wall seen face on.

    Parameters
    ----------
    view
        The wall.
    reference_mm
        (4, 2) corners of a sheet of white paper on it, survey mm.
    """
    light = view.one_light
    paper = light[view.covered(reference_mm, 0.7) & view.seen]
    sheet = float(np.median(paper)) if len(paper) >= LEAST_PAPER else np.inf
    if sheet > np.log(SHEET_CLIPPED):
        return []
    bright = ((light > sheet + BRIGHTER) & view.seen).astype(np.uint8)
    bar = max(round(BAR_MM / view.mm_per_px), 1) | 1
    opened = cv2.morphologyEx(bright, cv2.MORPH_OPEN, np.ones((9, 9), np.uint8))
    whole = cv2.morphologyEx(opened, cv2.MORPH_CLOSE, np.ones((bar, bar), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(whole, connectivity=4)
    found = []
    for index in range(1, count):
        column, row, width, height, area = (int(v) for v in stats[index])
        glass = view.to_rect(column, row, width, height)
        if not (
            WIDTHS_MM[0] <= glass.width_mm <= WIDTHS_MM[1]
            and HEIGHTS_MM[0] <= glass.height_mm <= HEIGHTS_MM[1]
            and glass.bottom_mm >= LEAST_SILL_MM
            and area >= FILLED * width * height
        ):
            continue
        part = labels[row : row + height, column : column + width] == index
        over = float(np.median(light[row : row + height, column : column + width][part])) - sheet
        rim = out_to_rim(light, (column, row, width, height), round(FRAME_MM / view.mm_per_px))
        sure = float(np.clip(0.5 + 0.5 * over, 0.0, 0.9))
        found.append(Window(view.to_rect(*rim), sure, float(np.exp(over))))
    return sorted(found, key=lambda window: -window.confidence)

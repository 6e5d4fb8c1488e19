"""How much of each pixel lies inside a shape: edges without stairs and without blur."""

from __future__ import annotations

import numpy as np

from visualiser.geometry import Rect
from visualiser.rendering.sight_lines import Field


def covered(value_mm: Field, low_mm: float, high_mm: float, pitch_mm: Field) -> Field:
    """Share of each pixel between two parallel edges; right even for slits under a pixel."""
    inverse = 1 / pitch_mm
    return np.asarray(
        np.clip((value_mm - np.float32(low_mm)) * inverse + np.float32(0.5), 0, 1)
        - np.clip((value_mm - np.float32(high_mm)) * inverse + np.float32(0.5), 0, 1)
    )


def covered_rect(x_mm: Field, y_mm: Field, rect: Rect, px_mm: Field, py_mm: Field) -> Field:
    """Share of each pixel inside a rectangle."""
    return np.asarray(
        covered(x_mm, rect.left_mm, rect.right_mm, px_mm)
        * covered(y_mm, rect.bottom_mm, rect.top_mm, py_mm)
    )


def inset(rect: Rect, left: float, right: float, bottom: float, top: float) -> Rect:
    """Rectangle with strips taken off its sides."""
    return Rect(
        rect.x_mm + left,
        rect.y_mm + bottom,
        max(rect.width_mm - left - right, 0.0),
        max(rect.height_mm - bottom - top, 0.0),
    )


def filled_part(mask: Field) -> tuple[slice, slice]:
    """Rows and columns that hold everything a mask covers; empty where it covers nothing."""
    rows, columns = np.flatnonzero(mask.max(axis=1) > 0), np.flatnonzero(mask.max(axis=0) > 0)
    if not len(rows) or not len(columns):
        return slice(0, 0), slice(0, 0)
    return slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)

"""How far to trust each part of the wall, as lines over the photo."""

from __future__ import annotations

from typing import Any

import numpy as np

from visualiser.rectification.plane import WallPlane
from visualiser.units import Unit

GRID = 48
LEVELS_MM = (1.0, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0, 30.0, 50.0, 100.0)
LEVELS_INCH = (1 / 16, 1 / 8, 1 / 4, 1 / 2, 1.0, 2.0, 4.0)
_INCHES = ("1/16", "1/8", "1/4", "1/2", "1", "2", "4")


def half_width_around(plane: WallPlane, radius_mm: float) -> float:
    """Largest 95 % half-width, mm, on a circle around the reference: right, up, left and down."""
    around = radius_mm * np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])
    return float(plane.half_width(around).max())


def accuracy_contours(
    plane: WallPlane, width_px: int, height_px: int, unit: Unit
) -> list[dict[str, Any]]:
    """Lines of equal 95 % half-width over the photo.

    Parameters
    ----------
    plane
        The measured wall.
    width_px, height_px
        Size of the photo.
    unit
        Unit in which the lines are labelled, and to whose round values they are drawn.

    Returns
    -------
    Lines for the wall view: points in photo px, and a label such as ``± 5 mm``.
    """
    from skimage.measure import find_contours

    xs, ys = np.linspace(0, width_px - 1, GRID), np.linspace(0, height_px - 1, GRID)
    grid = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    half = plane.half_width(plane.to_wall(grid)).reshape(GRID, GRID)
    inches = unit in ("in", "ft")
    levels = [v * 25.4 for v in LEVELS_INCH] if inches else list(LEVELS_MM)
    labels = [f"± {v} in" for v in _INCHES] if inches else [f"± {v:g} mm" for v in LEVELS_MM]
    step = ((width_px - 1) / (GRID - 1), (height_px - 1) / (GRID - 1))
    lines: list[dict[str, Any]] = []
    for level, label in zip(levels, labels, strict=True):
        for contour in find_contours(half, level):  # type: ignore[no-untyped-call]
            points = contour[:, ::-1] * step
            if len(points) < 6:
                continue
            at = points[len(points) // 3]
            lines.append(
                {
                    "points": np.round(points, 1).tolist(),
                    "text": label,
                    "at": np.round(at, 1).tolist(),
                }
            )
    return lines

"""Sloping sides of a wall: the stair that rises below it, the roof that comes down over it."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import Polygon

STAIR_SLOPES = (15.0, 60.0)
"""Slopes, degrees, of an outline's lower side that are taken for a stair."""


@lru_cache(maxsize=64)
def stair_side(
    outline: Polygon,
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Give the longest lower side that rises like a stair, left end first; None without one."""
    points = outline.points_mm
    turn = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in outline.edges())
    sides = outline.edges() if turn > 0 else Polygon(points[::-1]).edges()
    best, longest = None, 0.0
    for a, b in sides:
        length = math.dist(a, b)
        steep = math.degrees(math.atan2(abs(b[1] - a[1]), b[0] - a[0]))
        if STAIR_SLOPES[0] <= steep <= STAIR_SLOPES[1] and length > longest:
            best, longest = (a, b), length
    return best


def roof_side(outline: Polygon) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Give the longest upper side that slopes as under a roof, left end first; None without one."""
    top = outline.bounds.top_mm + outline.bounds.bottom_mm
    turned = Polygon(tuple((x, top - y) for x, y in reversed(outline.points_mm)))
    side = stair_side(turned)
    if side is None:
        return None
    (x1, y1), (x2, y2) = side
    return (x1, top - y1), (x2, top - y2)


def floor_height(outline: Polygon, x_mm: float) -> float:
    """Height of the floor at a place: 0, or the line of a stair's nosings where one rises."""
    return float(floor_heights(outline, np.array(x_mm)))


def floor_heights(outline: Polygon, xs_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Height of the floor at places (K,): 0, or the line of a stair's nosings where one rises."""
    side = stair_side(outline)
    if side is None:
        return np.zeros_like(xs_mm)
    (x1, y1), (x2, y2) = side
    share = (np.clip(xs_mm, x1, x2) - x1) / (x2 - x1)
    return np.asarray(y1 + share * (y2 - y1))


def floor_rise(outline: Polygon) -> float:
    """Rise over run of the stair below a wall; 0 for a level floor."""
    side = stair_side(outline)
    return 0.0 if side is None else (side[1][1] - side[0][1]) / (side[1][0] - side[0][0])

"""Any simple polygon as upright rectangles that cover it, or all that lies outside it."""

from __future__ import annotations

import itertools

import numpy as np

from visualiser.geometry import Polygon

HAIR = 1e-6
STRIPS = 48
"""Strips that a sloping side's polygon is cut into at most, each way."""


def strips(polygon: Polygon, *, inside: bool) -> list[tuple[float, float, float, float]]:
    """Upright rectangles that together cover a polygon, or all of its bounds outside it."""
    bounds = polygon.bounds
    if polygon.is_upright_rect:
        box = (bounds.left_mm, bounds.bottom_mm, bounds.right_mm, bounds.top_mm)
        return [box] if inside else []
    stops = {x for x, _ in polygon.points_mm}
    for (x1, y1), (x2, y2) in polygon.edges():
        if x1 != x2 and y1 != y2:
            stops |= set(np.linspace(x1, x2, STRIPS // 4 + 1))
    xs = sorted(stops)
    out: list[tuple[float, float, float, float]] = []
    for left, right in itertools.pairwise(xs):
        if right - left < HAIR:
            continue
        bands = _joined(_bands(polygon, left, right))
        covered = list(bands)
        edges = [bounds.bottom_mm, *(y for band in bands for y in band), bounds.top_mm]
        for low, high in zip(edges[::2], edges[1::2], strict=True):
            middle = polygon.contains_point((left + right) / 2, (low + high) / 2)
            if high > low and middle == inside:
                covered.append((low, high))
        out += [(left, low, right, high) for low, high in _joined(covered) if high > low]
    return out


def _bands(polygon: Polygon, left: float, right: float) -> list[tuple[float, float]]:
    """Heights that each side of the polygon sweeps between two plumb lines."""
    out = []
    for (x1, y1), (x2, y2) in polygon.edges():
        if x1 == x2 or max(x1, x2) <= left or min(x1, x2) >= right:
            continue
        at = [y1 + (min(max(x, min(x1, x2)), max(x1, x2)) - x1) * (y2 - y1) / (x2 - x1)
              for x in (left, right)]  # fmt: skip
        out.append((min(at), max(at)))
    return out


def _joined(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Merge spans that touch or overlap."""
    out: list[tuple[float, float]] = []
    for low, high in sorted(spans):
        if out and low <= out[-1][1] + HAIR:
            out[-1] = (out[-1][0], max(high, out[-1][1]))
        else:
            out.append((low, high))
    return out

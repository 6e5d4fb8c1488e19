"""Plane shapes on the wall, in millimetres: x right, y up."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

PointsPx = NDArray[np.float64]
"""(N, 2) photo points: x right, y down; (0, 0) is the centre of the top-left pixel."""
PointsMm = NDArray[np.float64]
"""(N, 2) wall points: x right, y up."""
Covariances = NDArray[np.float64]
"""(N, 2, 2) covariance matrices."""
Matrix = NDArray[np.float64]


def frozen(values: Any, shape: tuple[int | None, ...] | None = None) -> NDArray[np.float64]:
    """Read-only float64 copy of an array, its shape checked (None stands for any length).

    Raises
    ------
    ValueError
        If the shape differs from the one asked for, or a value is not finite.
    """
    array = np.array(values, dtype=np.float64)
    if shape is not None and (
        array.ndim != len(shape)
        or any(
            want is not None and want != got for want, got in zip(shape, array.shape, strict=True)
        )
    ):
        raise ValueError(f"expected shape {shape}, got {array.shape}")
    if not np.isfinite(array).all():
        raise ValueError("expected finite numbers")
    array.flags.writeable = False
    return array


@dataclass(frozen=True, slots=True)
class Rect:
    """Upright rectangle on the wall: lower-left corner and size."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        if not all(math.isfinite(v) for v in (self.x_mm, self.y_mm)):
            raise ValueError(f"a rectangle's corner must be finite, got {self!r}")
        if not (0 <= self.width_mm < math.inf and 0 <= self.height_mm < math.inf):
            raise ValueError(f"a rectangle's size must be 0 or more, got {self!r}")

    @classmethod
    def from_centre(cls, x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> Rect:
        """Rectangle around a centre."""
        return cls(x_mm - width_mm / 2, y_mm - height_mm / 2, width_mm, height_mm)

    @property
    def left_mm(self) -> float:
        """X of the left edge."""
        return self.x_mm

    @property
    def right_mm(self) -> float:
        """X of the right edge."""
        return self.x_mm + self.width_mm

    @property
    def bottom_mm(self) -> float:
        """Y of the lower edge."""
        return self.y_mm

    @property
    def top_mm(self) -> float:
        """Y of the upper edge."""
        return self.y_mm + self.height_mm

    @property
    def centre_mm(self) -> tuple[float, float]:
        """Centre (x, y)."""
        return (self.x_mm + self.width_mm / 2, self.y_mm + self.height_mm / 2)

    @property
    def area_mm2(self) -> float:
        """Area, mm²."""
        return self.width_mm * self.height_mm

    def corners(self) -> PointsMm:
        """Corners (4, 2): top-left, top-right, bottom-right, bottom-left."""
        return np.array(
            [
                [self.left_mm, self.top_mm],
                [self.right_mm, self.top_mm],
                [self.right_mm, self.bottom_mm],
                [self.left_mm, self.bottom_mm],
            ]
        )

    def moved(self, dx_mm: float, dy_mm: float) -> Rect:
        """Move it, keeping its size."""
        return Rect(self.x_mm + dx_mm, self.y_mm + dy_mm, self.width_mm, self.height_mm)

    def grown(self, margin_mm: float) -> Rect:
        """Larger by a margin on every side (negative: smaller, never below zero)."""
        width = max(self.width_mm + 2 * margin_mm, 0.0)
        height = max(self.height_mm + 2 * margin_mm, 0.0)
        return Rect.from_centre(*self.centre_mm, width, height)

    def gap_to(self, other: Rect) -> tuple[float, float]:
        """Clear distance (along x, along y); negative where the shadows on that axis overlap."""
        return (
            max(other.left_mm - self.right_mm, self.left_mm - other.right_mm),
            max(other.bottom_mm - self.top_mm, self.bottom_mm - other.top_mm),
        )

    def distance_to(self, other: Rect) -> float:
        """Clear distance, corner to corner where they lie diagonally; negative: they overlap."""
        across, up = self.gap_to(other)
        return math.hypot(across, up) if across > 0 and up > 0 else max(across, up)

    def overlaps(self, other: Rect, tolerance_mm: float = 1e-6) -> bool:
        """Whether the insides share more than a hair."""
        return max(self.gap_to(other)) < -tolerance_mm

    def contains(self, other: Rect, tolerance_mm: float = 1e-6) -> bool:
        """Whether another rectangle lies wholly inside."""
        return (
            other.left_mm >= self.left_mm - tolerance_mm
            and other.right_mm <= self.right_mm + tolerance_mm
            and other.bottom_mm >= self.bottom_mm - tolerance_mm
            and other.top_mm <= self.top_mm + tolerance_mm
        )


def bounding_rect(rects: Iterable[Rect]) -> Rect:
    """Smallest rectangle around several.

    Raises
    ------
    ValueError
        If there are none.
    """
    items = list(rects)
    if not items:
        raise ValueError("a bounding rectangle needs at least one rectangle")
    left, bottom = min(r.left_mm for r in items), min(r.bottom_mm for r in items)
    right, top = max(r.right_mm for r in items), max(r.top_mm for r in items)
    return Rect(left, bottom, right - left, top - bottom)


@dataclass(frozen=True, slots=True)
class Polygon:
    """Simple polygon on the wall: corners in order, the last joined to the first."""

    points_mm: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if len(self.points_mm) < 3:
            raise ValueError(f"a polygon needs three corners or more, got {len(self.points_mm)}")
        if not all(math.isfinite(v) for p in self.points_mm for v in p):
            raise ValueError("a polygon's corners must be finite")

    @classmethod
    def from_rect(cls, rect: Rect) -> Polygon:
        """Turn a rectangle into a polygon."""
        return cls(tuple((float(x), float(y)) for x, y in rect.corners()))

    def __iter__(self) -> Iterator[tuple[float, float]]:
        return iter(self.points_mm)

    @property
    def bounds(self) -> Rect:
        """Smallest upright rectangle around it."""
        xs, ys = [p[0] for p in self.points_mm], [p[1] for p in self.points_mm]
        return Rect(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))

    @property
    def area_mm2(self) -> float:
        """Area, mm², whichever way round the corners run (shoelace formula)."""
        twice = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in self.edges())
        return abs(twice) / 2

    @property
    def is_upright_rect(self) -> bool:
        """Whether it is exactly its bounds: four corners, sides plumb and level."""
        bounds = self.bounds
        corners = {(float(x), float(y)) for x, y in bounds.corners()}
        return len(self.points_mm) == 4 and set(self.points_mm) == corners

    def edges(self) -> list[tuple[tuple[float, float], tuple[float, float]]]:
        """Sides in order, the last one closing the outline."""
        return list(zip(self.points_mm, self.points_mm[1:] + self.points_mm[:1], strict=True))

    def crossing(self) -> tuple[int, int] | None:
        """Numbers of two sides that meet where they should not, from 0; None when it is simple."""
        sides = self.edges()
        count = len(sides)
        for i in range(count):
            if sides[i][0] == sides[i][1]:
                return i, i
            for j in range(i + 1, count):
                if j == i + 1 or (i == 0 and j == count - 1):
                    first, second = (sides[i], sides[j]) if j == i + 1 else (sides[j], sides[i])
                    if _folds_back(first, second):
                        return i, j
                elif _segments_meet(*sides[i], *sides[j]):
                    return i, j
        return None

    def contains_point(self, x_mm: float, y_mm: float) -> bool:
        """Whether a point lies inside (even-odd rule; points on a side may count either way)."""
        inside = False
        for (x1, y1), (x2, y2) in self.edges():
            if (y1 > y_mm) != (y2 > y_mm) and x_mm < x1 + (y_mm - y1) * (x2 - x1) / (y2 - y1):
                inside = not inside
        return inside

    def contains_rect(self, rect: Rect, tolerance_mm: float = 1e-6) -> bool:
        """Whether a rectangle lies wholly inside; it may touch the sides."""
        inner = rect.grown(-tolerance_mm)
        return self.contains_point(*inner.centre_mm) and not any(
            _enters(a, b, inner) for a, b in self.edges()
        )

    def overlaps_rect(self, rect: Rect, tolerance_mm: float = 1e-6) -> bool:
        """Whether it shares more than a hair of area with a rectangle."""
        inner = rect.grown(-tolerance_mm)
        return self.contains_point(*inner.centre_mm) or any(
            _enters(a, b, inner) for a, b in self.edges()
        )

    def distance_to_rect(self, rect: Rect) -> float:
        """Shortest distance from a rectangle, mm; 0 where they overlap or touch."""
        if self.overlaps_rect(rect, 0.0):
            return 0.0
        corners = [(float(x), float(y)) for x, y in rect.corners()]
        own = min(
            math.hypot(
                max(rect.left_mm - x, x - rect.right_mm, 0.0),
                max(rect.bottom_mm - y, y - rect.top_mm, 0.0),
            )
            for x, y in self.points_mm
        )
        return min(own, *(_off_segment(a, b, p) for a, b in self.edges() for p in corners))


def _off_segment(a: tuple[float, float], b: tuple[float, float], p: tuple[float, float]) -> float:
    """Distance of a point from a segment."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    length2 = dx * dx + dy * dy
    along = ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length2 if length2 else 0.0
    along = min(max(along, 0.0), 1.0)
    return math.hypot(p[0] - a[0] - along * dx, p[1] - a[1] - along * dy)


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    """Twice the signed area of a triangle: positive when it turns left."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _within(a: tuple[float, float], b: tuple[float, float], p: tuple[float, float]) -> bool:
    """Whether a point on the line through a and b lies between them."""
    return min(a[0], b[0]) <= p[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= p[1] <= max(a[1], b[1])


def _segments_meet(
    a: tuple[float, float], b: tuple[float, float], c: tuple[float, float], d: tuple[float, float]
) -> bool:
    """Whether two closed segments share a point."""
    abc, abd, cda, cdb = _turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)
    if abc * abd < 0 and cda * cdb < 0:
        return True
    return (
        (abc == 0 and _within(a, b, c))
        or (abd == 0 and _within(a, b, d))
        or (cda == 0 and _within(c, d, a))
        or (cdb == 0 and _within(c, d, b))
    )


def _folds_back(
    first: tuple[tuple[float, float], tuple[float, float]],
    second: tuple[tuple[float, float], tuple[float, float]],
) -> bool:
    """Whether the second of two joined sides runs back over the first."""
    (a, b), (_, c) = first, second
    along = (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1])
    return _turn(a, b, c) == 0 and along < 0


def _enters(a: tuple[float, float], b: tuple[float, float], rect: Rect) -> bool:
    """Whether a segment passes through the open inside of a rectangle (Liang and Barsky 1984)."""
    start, end = 0.0, 1.0
    spans = (
        (a[0], b[0], rect.left_mm, rect.right_mm),
        (a[1], b[1], rect.bottom_mm, rect.top_mm),
    )
    for from_mm, to_mm, low, high in spans:
        step = to_mm - from_mm
        if step == 0:
            if not low < from_mm < high:
                return False
            continue
        t_low, t_high = (low - from_mm) / step, (high - from_mm) / step
        start, end = max(start, min(t_low, t_high)), min(end, max(t_low, t_high))
    return start < end

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

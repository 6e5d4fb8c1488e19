"""What a person adds to a photo: lines, taped lengths, the floor. Photo px throughout."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

LineDirection = Literal["plumb", "level", "straight"]
"""What is known of a line: upright, level along the wall, or only that it is straight."""

PointPx = tuple[float, float]


def _check_points(*points: PointPx) -> None:
    if not all(math.isfinite(v) for point in points for v in point):
        raise ValueError(f"a mark's points must be finite, got {points!r}")


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """A line drawn along a straight edge of the room; it snaps to the edge when one is there.

    Parameters
    ----------
    start_px, end_px
        Its ends.
    direction
        What is known of it.
    through_px
        Further points clicked along it, in order; then it is used as clicked, without snapping.
    sigma_px
        Standard uncertainty of a clicked point, where no edge is found.
    """

    start_px: PointPx
    end_px: PointPx
    direction: LineDirection = "straight"
    through_px: tuple[PointPx, ...] = ()
    sigma_px: float = 2.0

    def __post_init__(self) -> None:
        _check_points(self.start_px, self.end_px, *self.through_px)
        if not 0 < self.sigma_px < math.inf:
            raise ValueError(f"sigma_px of a drawn line must be positive, got {self.sigma_px!r}")
        if math.dist(self.start_px, self.end_px) < 1:
            raise ValueError("a drawn line needs two different ends")


@dataclass(frozen=True, slots=True)
class TapedLength:
    """A length measured on the wall with a tape, between two points clicked in the photo.

    Parameters
    ----------
    start_px, end_px
        The two clicked points; both lie on the wall's plane.
    length_mm
        What the tape reads.
    sigma_mm
        Standard uncertainty of the reading.
    click_sigma_px
        Standard uncertainty of one click, in x and in y.
    name
        What was measured, such as "door width".
    """

    start_px: PointPx
    end_px: PointPx
    length_mm: float
    sigma_mm: float = 1.0
    click_sigma_px: float = 1.0
    name: str = ""

    def __post_init__(self) -> None:
        _check_points(self.start_px, self.end_px)
        for name in ("length_mm", "sigma_mm", "click_sigma_px"):
            if not 0 < (value := getattr(self, name)) < math.inf:
                raise ValueError(f"{name} of a taped length must be positive, got {value!r}")
        if math.dist(self.start_px, self.end_px) < 1:
            raise ValueError("a taped length needs two different ends")


@dataclass(frozen=True, slots=True)
class Marks:
    """Everything a person marked in one photo.

    Parameters
    ----------
    lines
        Drawn lines.
    taped
        Taped lengths.
    floor_px
        Points clicked where the wall meets the finished floor.
    reference_height_mm
        Typed height of the reference's lower edge above the floor, or None.
    reference_height_sigma_mm
        Standard uncertainty of that height.
    rejected_lines
        Names of automatic room lines that are not to be used.
    find_lines
        Whether to look for room lines at all.
    """

    lines: tuple[DrawnLine, ...] = ()
    taped: tuple[TapedLength, ...] = ()
    floor_px: tuple[PointPx, ...] = ()
    reference_height_mm: float | None = None
    reference_height_sigma_mm: float = 2.0
    rejected_lines: tuple[str, ...] = ()
    find_lines: bool = True

    def __post_init__(self) -> None:
        _check_points(*self.floor_px)
        height = self.reference_height_mm
        if height is not None and not -10_000 < height < 10_000:
            raise ValueError(f"a reference's height must be within 10 m of the floor, got {height}")
        if not 0 < self.reference_height_sigma_mm < math.inf:
            raise ValueError("the height's uncertainty must be positive")

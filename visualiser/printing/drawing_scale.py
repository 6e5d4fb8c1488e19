"""The scale of a drawing, and where on the paper the wall then lies."""

from __future__ import annotations

from dataclasses import dataclass

from visualiser.errors import PrintingError
from visualiser.geometry import Rect

SCALES = (5, 10, 15, 20, 25, 30, 40, 50, 60, 75, 100, 150, 200)
"""Drawing scales that a ruler can follow: ISO 5455 (5, 10, 20, 50, 100, 200) and steps between."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Part of a page that a drawing of the wall fills, and its scale, 1 to ``denominator``."""

    x_mm: float
    y_mm: float
    denominator: int
    view: Rect

    def place(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Find the place on the paper of a place on the wall."""
        return (
            self.x_mm + (x_mm - self.view.left_mm) / self.denominator,
            self.y_mm + (y_mm - self.view.bottom_mm) / self.denominator,
        )

    def box(self, rect: Rect) -> tuple[float, float, float, float]:
        """Lower left corner and size on the paper of a rectangle of the wall."""
        x, y = self.place(rect.left_mm, rect.bottom_mm)
        return x, y, rect.width_mm / self.denominator, rect.height_mm / self.denominator


def fit_scale(width_mm: float, height_mm: float, room_mm: tuple[float, float]) -> int:
    """Largest drawing scale at which a wall fits into the room on the paper.

    Raises
    ------
    PrintingError
        If it fits at none.
    """
    for denominator in SCALES:
        if width_mm <= room_mm[0] * denominator and height_mm <= room_mm[1] * denominator:
            return denominator
    raise PrintingError(
        f"A wall of {width_mm / 1000:.1f} x {height_mm / 1000:.1f} m does not fit on this paper "
        f"even at 1:{SCALES[-1]}.",
        hint="Choose larger paper, or survey the part of the wall that is hung.",
    )


def scale_text(denominator: int) -> str:
    """Name a scale, and what an inch stands for."""
    return f"scale 1:{denominator} (1 in stands for {denominator / 12:.3g} ft)"

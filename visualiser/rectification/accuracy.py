"""How well the wall is known, place by place, and in words what would help."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from visualiser.findings import Finding
from visualiser.geometry import Matrix, PointsPx, frozen
from visualiser.rectification.plane import WallPlane

FAR_HALF_WIDTH_MM = 8.0
"""Half-width from which a picture hung there looks misplaced to the eye (common practice)."""
LEVEL_DOUBT_DEG = 0.4
"""Level uncertainty from which a row of frames could look crooked (7 mm in 1 m)."""


@dataclass(frozen=True, slots=True, eq=False)
class AccuracyMap:
    """95 % half-widths of wall positions over the photo.

    Parameters
    ----------
    x_px, y_px
        (C,) columns and (R,) rows of the grid.
    half_width_mm
        (R, C) half-width; NaN where the plane is behind the camera or beyond its horizon.
    """

    x_px: Matrix
    y_px: Matrix
    half_width_mm: Matrix

    def __post_init__(self) -> None:
        object.__setattr__(self, "x_px", frozen(self.x_px, (None,)))
        object.__setattr__(self, "y_px", frozen(self.y_px, (None,)))


def accuracy_map(plane: WallPlane, width_px: int, height_px: int, columns: int = 48) -> AccuracyMap:
    """Half-widths on a grid over the photo, for contours.

    Parameters
    ----------
    plane
        The measured wall.
    width_px, height_px
        Size of the photo.
    columns
        Grid points along the width.
    """
    rows = max(2, round(columns * height_px / width_px))
    x, y = np.linspace(0, width_px - 1, columns), np.linspace(0, height_px - 1, rows)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    values = np.full(len(grid), np.nan)
    seen = faces_wall(plane, grid)
    if seen.any():
        values[seen] = plane.half_width(plane.to_wall(grid[seen]))
    return AccuracyMap(x, y, values.reshape(rows, columns))


def faces_wall(plane: WallPlane, points_px: PointsPx, farthest_mm: float = 15_000.0) -> Matrix:
    """Which photo points (N,) look at the wall's plane, no further off than a room is long."""
    rays = plane.lens.to_rays(points_px)
    rays = np.c_[rays, np.ones(len(rays))]
    normal = plane.rotation[:, 2]
    towards = rays @ normal
    away = float(normal @ plane.translation_mm)
    depth = np.divide(away, towards, out=np.full(len(rays), np.inf), where=np.abs(towards) > 1e-9)
    return np.asarray((depth > 0) & (depth < farthest_mm))


def accuracy_findings(
    plane: WallPlane, width_px: int, height_px: int, *, level_from_lines: bool, small: bool
) -> tuple[Finding, ...]:
    """Tell what limits the measurement and what would help.

    Parameters
    ----------
    plane
        The measured wall.
    width_px, height_px
        Size of the photo.
    level_from_lines
        Whether a room line gave level.
    small
        Whether the reference is a bank card or smaller.
    """
    findings = []
    if not level_from_lines:
        findings.append(
            Finding(
                "note",
                f"Level is taken from the reference's own edges, good to ± "
                f"{1.96 * plane.level_sigma_deg:.1f}°.",
                "Draw a plumb or level edge (door frame, skirting, ceiling), or tape the sheet "
                "with a spirit level.",
                "level-from-sheet",
            )
        )
    elif plane.level_sigma_deg > LEVEL_DOUBT_DEG:
        findings.append(
            Finding(
                "advice",
                f"Level is good to ± {1.96 * plane.level_sigma_deg:.1f}° only.",
                "Draw a long plumb or level edge of the room.",
                "level-uncertain",
            )
        )
    findings += _ends(plane, width_px, height_px, level_from_lines=level_from_lines)
    if small:
        findings.append(
            Finding(
                "advice",
                "A bank card is a small reference: its scale is uncertain by "
                f"± {_per_metre(plane):.0f} mm in a metre.",
                "Use a sheet of paper, or type one length taped on the wall.",
                "small-reference",
            )
        )
    return tuple(findings)


def _per_metre(plane: WallPlane) -> float:
    return plane.length(np.array([-500.0, 0.0]), np.array([500.0, 0.0]))[1]


def _ends(
    plane: WallPlane, width_px: int, height_px: int, *, level_from_lines: bool
) -> list[Finding]:
    """Say how uncertain the wall's ends are at the reference's height, the worse one only."""
    middle = plane.reference_corners_px.mean(axis=0)
    row = float(np.clip(middle[1], 0, height_px - 1))
    ends = np.array([[0.04 * width_px, row], [0.96 * width_px, row]])
    seen = faces_wall(plane, ends)
    if not seen.any():
        return []
    widths = np.zeros(2)
    widths[seen] = plane.half_width(plane.to_wall(ends[seen]))
    worst = int(widths.argmax())
    if widths[worst] <= FAR_HALF_WIDTH_MM:
        return []
    side = ("left", "right")[worst]
    lines = "add a second sheet there" if level_from_lines else "draw the skirting or ceiling line"
    other = "type one long taped length" if level_from_lines else "add a second sheet there"
    return [
        Finding(
            "advice",
            f"± {math.ceil(widths[worst])} mm at the {side} end.",
            f"To do better, {lines} or {other}.",
            "uncertain-end",
        )
    ]

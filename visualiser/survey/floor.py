"""How high the finished floor is: typed, clicked, or read off the skirting board."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from visualiser.findings import Finding
from visualiser.geometry import PointsMm
from visualiser.rectification.marks import Marks
from visualiser.rectification.plane import FittedLine, WallPlane

SKIRTING_HEIGHT_MM = (45.0, 240.0)
"""Skirting boards are this high (common practice, no source)."""
SKIRTING_DEPTH_MM, SKIRTING_DEPTH_SIGMA_MM = 15.0, 5.0
"""How far a skirting board stands off the wall, and its standard uncertainty."""
REFERENCE_HEIGHT_MM, REFERENCE_HEIGHT_SIGMA_MM = 1450.0, 300.0
"""Where people tape a sheet: about eye height (common practice, no source)."""
UNLIKELY_SIGMAS = 2.0
MIN_OVERLAP = 0.4
"""Share of the shorter of a skirting's two edges that lies along the other."""
CLICK_SIGMA_PX = 2.0
CONTRADICTION_SIGMAS = 4.0


@dataclass(frozen=True, slots=True)
class Floor:
    """Height of the finished floor in the plane's wall mm, and where it was had from."""

    y_mm: float
    sigma_mm: float
    findings: tuple[Finding, ...] = ()


def find_floor(plane: WallPlane, marks: Marks) -> Floor | None:
    """Find the floor; a typed height goes before clicks, and clicks before the skirting.

    Returns
    -------
    The floor, or None where nothing tells it.
    """
    typed, clicked = _typed(plane, marks), _clicked(plane, marks)
    if typed is not None and clicked is not None:
        apart = abs(typed.y_mm - clicked.y_mm)
        if apart > CONTRADICTION_SIGMAS * float(np.hypot(typed.sigma_mm, clicked.sigma_mm)):
            finding = Finding(
                "advice",
                f"The typed height and the clicked floor differ by {apart:.0f} mm; "
                "the typed height was used.",
                "Measure the height of the sheet's lower edge again.",
                "floor-contradicts",
            )
            return Floor(typed.y_mm, typed.sigma_mm, (finding,))
    return typed or clicked or skirting_floor(plane)


def _typed(plane: WallPlane, marks: Marks) -> Floor | None:
    if marks.reference_height_mm is None:
        return None
    lower = plane.to_wall(plane.reference_corners_px)[2:4].mean(axis=0)
    return Floor(float(lower[1]) - marks.reference_height_mm, marks.reference_height_sigma_mm)


def _clicked(plane: WallPlane, marks: Marks) -> Floor | None:
    if not marks.floor_px:
        return None
    points_px = np.array(marks.floor_px, float)
    wall = plane.to_wall(points_px)
    below = plane.to_wall(points_px + [0.0, 1.0])
    click = CLICK_SIGMA_PX * np.abs(below[:, 1] - wall[:, 1]).max()
    # The click may be on the wall or on the foot of the skirting before it.
    foot = _off_wall_shift(plane, wall) / 2
    sigma = np.hypot(click, np.abs(foot).max()) / np.sqrt(len(wall))
    sigma = float(np.sqrt(sigma**2 + _height_variance(plane, wall)))
    return Floor(float((wall[:, 1] + foot).mean()), sigma)


def _height_variance(plane: WallPlane, wall: PointsMm) -> float:
    """Variance, mm², of heights measured through the plane down there."""
    return float(plane.covariance(wall)[:, 1, 1].mean())


def skirting_floor(plane: WallPlane) -> Floor | None:
    """Read the floor off the lower edge of a skirting board.

    A skirting is two level edges one above the other, 45 to 240 mm apart, low on the wall. Its
    face stands off the wall, so its foot is seen a little lower than the wall's own.
    """
    level = [line for line in plane.lines if line.direction == "level"]
    if len(level) < 2:
        return None
    middle = plane.reference_corners_px.mean(axis=0)
    best: tuple[float, PointsMm] | None = None
    for lower in level:
        foot = plane.to_wall(lower.ends_px)
        if lower.ends_px[:, 1].mean() < middle[1]:
            continue
        foot = foot + np.c_[np.zeros(2), _off_wall_shift(plane, foot)]
        height = -float(foot[:, 1].mean())
        unlikely = (height - REFERENCE_HEIGHT_MM) / REFERENCE_HEIGHT_SIGMA_MM
        if abs(unlikely) > UNLIKELY_SIGMAS:
            continue
        support = _skirting_support(plane, lower, level)
        score = support * float(np.exp(-0.5 * unlikely**2))
        if support > 0 and (best is None or score > best[0]):
            best = score, foot
    if best is None:
        return None
    foot = best[1]
    depth = np.abs(_off_wall_shift(plane, foot)).max() / SKIRTING_DEPTH_MM * SKIRTING_DEPTH_SIGMA_MM
    spread = float(np.ptp(foot[:, 1])) / 2
    floor = float(foot[:, 1].mean())
    sigma = float(np.sqrt(depth**2 + spread**2 + _height_variance(plane, foot)))
    finding = Finding(
        "note",
        f"The floor is taken from the foot of the skirting: the sheet's middle is "
        f"{-floor:.0f} mm above it.",
        "Confirm it with a tape, or type the height of the sheet's lower edge.",
        "floor-from-skirting",
    )
    return Floor(floor, sigma, (finding,))


def _skirting_support(plane: WallPlane, lower: FittedLine, level: Sequence[FittedLine]) -> float:
    """Length of level edge, mm, that runs at a skirting's height above another."""
    foot = plane.to_wall(lower.ends_px)
    left, right = sorted(foot[:, 0])
    best = 0.0
    for upper in level:
        top = plane.to_wall(upper.ends_px)
        rise = float(top[:, 1].mean() - foot[:, 1].mean())
        if not SKIRTING_HEIGHT_MM[0] <= rise <= SKIRTING_HEIGHT_MM[1]:
            continue
        start, end = sorted(top[:, 0])
        common = min(end, right) - max(start, left)
        if common > MIN_OVERLAP * min(end - start, right - left):
            best = max(best, (end - start) + (right - left))
    return float(best)


def _off_wall_shift(plane: WallPlane, wall: PointsMm) -> PointsMm:
    """How much higher (N,), mm, something a skirting's depth off the wall is than it looks."""
    camera = plane.camera_mm
    return np.asarray((camera[1] - wall[:, 1]) * SKIRTING_DEPTH_MM / max(camera[2], 1.0))

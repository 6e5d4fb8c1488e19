"""How high the finished floor is: typed, clicked, or read off the skirting board."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from visualiser.findings import Finding
from visualiser.geometry import PointsMm
from visualiser.rectification.marks import Marks
from visualiser.rectification.plane import WallPlane
from visualiser.statistics import COVERAGE_95
from visualiser.survey.face_on import FaceOn
from visualiser.survey.skirting import find_foot
from visualiser.wording import Length, sentence

SKIRTING_DEPTH_MM, SKIRTING_DEPTH_SIGMA_MM = 15.0, 5.0
"""How far a skirting board stands off the wall, and its standard uncertainty."""
REFERENCE_HEIGHT_MM, REFERENCE_HEIGHT_SIGMA_MM = 1450.0, 300.0
"""Where people tape a sheet: about eye height (common practice, no source)."""
CAMERA_HEIGHT_MM, CAMERA_HEIGHT_SIGMA_MM = 1500.0, 250.0
"""Where a person who stands holds a phone: between chest and eyes (common practice, no source)."""
UNLIKELY_SIGMAS = 2.0
"""How unusual both heights may be together."""
CLICK_SIGMA_PX = 2.0
CONTRADICTION_SIGMAS = 4.0


@dataclass(frozen=True, slots=True)
class Floor:
    """Height of the finished floor in the plane's wall mm, and where it was had from."""

    y_mm: float
    sigma_mm: float
    findings: tuple[Finding, ...] = ()


def find_floor(view: FaceOn | None, plane: WallPlane, marks: Marks) -> Floor | None:
    """Find the floor; a typed height goes before clicks, and clicks before the skirting.

    Parameters
    ----------
    view
        The wall seen face on, see `whole_wall`.
    plane
        The measured wall.
    marks
        What a person added.

    Returns
    -------
    The floor, or None where nothing shows it.
    """
    typed, clicked = _typed(plane, marks), _clicked(plane, marks)
    if typed is not None and clicked is not None:
        apart = abs(typed.y_mm - clicked.y_mm)
        if apart > CONTRADICTION_SIGMAS * float(np.hypot(typed.sigma_mm, clicked.sigma_mm)):
            finding = Finding(
                "advice",
                sentence(
                    "The typed height and the clicked floor differ by ",
                    Length(apart),
                    "; the typed height was used.",
                ),
                "Measure the height of the page's lower edge again.",
                "floor-contradicts",
            )
            return Floor(typed.y_mm, typed.sigma_mm, (finding,))
    return typed or clicked or skirting_floor(view, plane)


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


def skirting_floor(view: FaceOn | None, plane: WallPlane) -> Floor | None:
    """Read the floor off the foot of a skirting board.

    Its face stands off the wall, so its foot is seen a little lower than the wall's own.
    """
    reference = plane.to_wall(plane.reference_corners_px)
    seen = None if view is None else find_foot(view, reference)
    if seen is None:
        return None
    foot = np.array([[x, seen.foot_mm] for x in (seen.left_mm, seen.right_mm)])
    stands_off = _off_wall_shift(plane, foot)
    # Where no board differs from the wall there may be one in its colour, or none.
    shift = stands_off if seen.has_board else stands_off / 2
    depth = float(np.abs(stands_off).max())
    depth *= SKIRTING_DEPTH_SIGMA_MM / SKIRTING_DEPTH_MM if seen.has_board else 0.5
    floor = float((foot[:, 1] + shift).mean())
    height = float(reference[:, 1].mean()) - floor
    unlikely = np.hypot(
        (height - REFERENCE_HEIGHT_MM) / REFERENCE_HEIGHT_SIGMA_MM,
        (float(plane.camera_mm[1]) - floor - CAMERA_HEIGHT_MM) / CAMERA_HEIGHT_SIGMA_MM,
    )
    if unlikely > UNLIKELY_SIGMAS:
        return None
    sigma = float(np.sqrt(depth**2 + seen.sigma_mm**2 + _height_variance(plane, foot)))
    finding = Finding(
        "note",
        sentence(
            "The floor is taken from the foot of the skirting: the sheet's middle is ",
            Length(height),
            " ± ",
            Length(COVERAGE_95 * sigma, up=True),
            " above it.",
        ),
        "Confirm it with a tape, or type the height of the page's lower edge.",
        "floor-from-skirting",
    )
    return Floor(floor, sigma, (finding,))


def _off_wall_shift(plane: WallPlane, wall: PointsMm) -> PointsMm:
    """How much higher (N,), mm, something a skirting's depth off the wall is than it looks."""
    camera = plane.camera_mm
    return np.asarray((camera[1] - wall[:, 1]) * SKIRTING_DEPTH_MM / max(camera[2], 1.0))

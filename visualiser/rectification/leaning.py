"""A reference that stands against a sofa measures the sofa: refuse it where the room says so."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError
from visualiser.rectification.adjustment import Solution
from visualiser.rectification.directions import MEDIUM, line_normals
from visualiser.rectification.evidence import LineFit
from visualiser.rectification.marks import LineDirection
from visualiser.rectification.observed_lines import AXES
from visualiser.rectification.projection import CameraState, vector_from_rotation

Array = NDArray[np.float64]

LEAN_SIGMAS, LEAN_DEG = 6.0, 6.0
"""A reference that leans this much against the room's lines is not on the wall."""
AGREEMENT_DEG = 5.0
"""Edges whose leans agree to this tell of one direction; the hinge itself is a little off."""
STEEPEST_DEG = 45.0
"""Beyond this the edges run some other way: into the room, for one."""
APART = 0.12
"""Two edges closer than this share of the picture are one witness."""


def refuse_leaning(best: LineFit, fits: Sequence[LineFit], long_side_px: int) -> None:
    """Refuse a reference whose own plane contradicts the plumb and level lines of the room.

    Raises
    ------
    MeasurementError
        If lines that took part pull the plane away from the reference's own pose, or if lines
        that could not take part agree among themselves that the reference leans.
    """
    if not best.gives_level:
        return
    # Of its two poses alone the one nearer to the room's answer counts.
    sigmas, degrees = min(_lean(fit.alone, best.solution.camera) for fit in fits)
    if not (sigmas > LEAN_SIGMAS and degrees > LEAN_DEG):
        degrees = _unheard_lean(best, long_side_px)
        if degrees == 0.0:
            return
    raise MeasurementError(
        f"The reference does not lie flat on the wall: it leans {degrees:.0f}° against the "
        "room's plumb and level lines.",
        hint="Tape it flat to the wall, or reject the lines that are not plumb or level.",
    )


def _lean(alone: Solution, joint: CameraState) -> tuple[float, float]:
    """Angle between two ideas of the wall's plane: in sigmas of the first, and in degrees."""
    turn = vector_from_rotation(joint.rotation @ alone.camera.rotation.T)
    normal = alone.camera.rotation[:, 2]
    axes = np.linalg.svd(normal[None, :])[2][1:]  # the two ways to lean
    lean = axes @ turn
    spread = axes @ alone.covariance[:3, :3] @ axes.T
    sigmas = float(np.sqrt(lean @ np.linalg.solve(spread, lean)))
    return sigmas, float(np.degrees(np.hypot(*lean)))


def _unheard_lean(fit: LineFit, long_side_px: int) -> float:
    """Lean in degrees that long lines agree on though none of them fitted; 0 where there is none.

    Level lines of the wall are level along a leaning sheet as well, so they join the fit; the
    room's plumb lines then fit nothing. Plumb is square to level: each such line tells a lean.
    """
    long = MEDIUM * long_side_px
    lines = [i for i, line in enumerate(fit.lines) if line.length_px >= long]
    pairs: tuple[tuple[LineDirection, LineDirection], ...] = (
        ("level", "plumb"),
        ("plumb", "level"),
    )
    for heard, unheard in pairs:
        kinds = {fit.directions[i].kind for i in lines}
        if heard not in kinds or unheard in kinds:
            continue
        loose = [i for i in lines if fit.directions[i].kind == "straight"]
        if len(loose) < 2:
            continue
        normals, _ = line_normals([fit.lines[i] for i in loose], fit.solution.camera)
        rotation = fit.solution.camera.rotation
        hinge, upright = rotation @ AXES[heard], rotation @ AXES[unheard]
        lean = _leans(normals, hinge, upright)
        middles = np.array([fit.lines[i].samples.points_px.mean(axis=0) for i in loose])
        for k, degrees in enumerate(lean):
            if not LEAN_DEG < abs(degrees) < STEEPEST_DEG:
                continue
            agree = np.abs(lean - degrees) < AGREEMENT_DEG
            if np.hypot(*(middles[agree] - middles[k]).T).max() > APART * long_side_px:
                return float(abs(np.median(lean[agree])))
    return 0.0


def _leans(normals: Array, hinge: Array, upright: Array) -> Array:
    """Angle (N,), degrees, about a hinge by which each line's direction leaves the upright.

    The line's direction is taken to be square to the hinge; it lies in the plane through camera
    and line.
    """
    along = np.cross(normals, hinge)
    along = along * np.sign(along @ upright)[:, None]
    return np.asarray(np.degrees(np.arctan2(along @ np.cross(hinge, upright), along @ upright)))

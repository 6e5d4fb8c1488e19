"""Refuse what the room contradicts: a side that is another edge, a reference that leans.

Beside a sheet on striped wallpaper runs an edge that is clearer than the sheet's own. A side read
off it is straight and sharp; only the whole shape, held against the room's lines, contradicts it.
It is left out: the other three still measure. Where none can be named, nothing is measured.

A reference that stands against a sofa measures the sofa: it is refused where the room's plumb and
level lines say so. In a panorama no camera fits: its straight edges stay bent.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError
from visualiser.findings import Finding
from visualiser.rectification.camera.adjustment import Solution, huber_weights
from visualiser.rectification.camera.line_observation import AXES
from visualiser.rectification.camera.projection import CameraState, vector_from_rotation
from visualiser.rectification.camera.reference_observation import ReferenceObservation
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.edges.locate import no_samples
from visualiser.rectification.fit_lines import LineFit, line_covariance
from visualiser.rectification.lines.classify import (
    SLACK_DEG,
    line_normals,
    propose_sortings,
    sort_lines,
)
from visualiser.rectification.lines.priors import KINDS, MEDIUM, LinePriors
from visualiser.rectification.lines.straightness import own_misfit
from visualiser.rectification.marks import LineDirection

Array = NDArray[np.float64]

CONTRADICTION = 40.0
"""Fall of the squared misfit without a side, in sigmas, beyond its own raggedness, that a right
side does not cause. (Right sides in rendered rooms: at most 32; one read off a stripe: 160.)"""
FORESEEN, STRAINED = 12.0, 3.0
"""Fall foreseen to first order, and mean squared residual over a side's own raggedness, below which
none is left out to see: the first misses a side that bends the room's lines to itself, the second
one that the other sides give way to."""
LOOSE_SHARE = 0.25
"""Share of the length of a room's lines that fits no direction, from which on the sides are tried
as well: a wrong side can turn the camera to where few of the room's lines are true."""
TELLING = 9.0
"""How much more its absence must explain than any other side's, in sigmas squared."""
NAMES = ("top", "right", "bottom", "left")

Refit = Callable[[ReferenceObservation, bool, float], list[LineFit]]


def leave_out_odd_side(
    seen: ReferenceObservation, fits: list[LineFit], refit: Refit
) -> tuple[ReferenceObservation, list[LineFit], list[Finding]]:
    """Leave out the one side that is not the reference's, if there is one.

    Parameters
    ----------
    seen
        The reference as it was seen.
    fits
        The wall fitted to it, best first.
    refit
        Fits the wall to another reading of the reference, best first; in the likeliest way only, or
        thoroughly; with a share of the steps that are left.

    Returns
    -------
    The reference without that side, its fits, and word of it; or what was given and no word.

    Raises
    ------
    MeasurementError
        If the sides contradict each other and which of them is wrong cannot be told.
    """
    sides = seen.sides
    if not all(len(side) for side in sides):
        return seen, fits, []
    count = np.array([len(side) for side in sides])
    misfit = np.array([own_misfit(side) for side in sides])
    ragged = np.maximum(misfit / np.maximum(count - 3, 1), 1.0)
    strained = fits[0].solution.variance_factors[0][:4] / ragged
    foreseen = foreseen_contradictions(seen, fits[0], misfit)
    loose = fits[0].loose_share
    if foreseen.max() < FORESEEN and strained.max() < STRAINED and loose < LOOSE_SHARE:
        return seen, fits, []
    others = [_without(seen, i) for i in range(4)]
    # One in five is kept for the reading that is chosen.
    tried = [refit(other, False, 1 / (5 - i)) for i, other in enumerate(others)]
    if not all(tried):
        return seen, fits, []
    fall = np.array([fits[0].price - some[0].price for some in tried])
    if (fall / ragged - (count - 3)).max() < CONTRADICTION:
        return seen, fits, []
    # Half a side on one edge and half on another is ragged for being wrong: which one is odd is
    # asked of the whole misfit, less what that many samples always have.
    telling = fall - count
    second, odd = (int(i) for i in np.argsort(telling)[-2:])
    if telling[odd] - telling[second] < TELLING:
        raise MeasurementError(
            "The sides of the reference contradict each other: one of them follows some other "
            "edge.",
            hint="Hang the reference where no stripe, frame or shadow runs along its edges, and "
            "photograph the wall again.",
        )
    finding = Finding(
        "advice",
        f"The {NAMES[odd]} side of the reference was left out: the edge seen there does not fit "
        "the other three.",
        "Hang the reference where no stripe, frame or shadow runs along its edges.",
        "side-left-out",
    )
    return others[odd], refit(others[odd], True, 1.0), [finding]


def foreseen_contradictions(seen: ReferenceObservation, fit: LineFit, misfit: Array) -> Array:
    """By how much the squared misfit would fall without each side, beyond its own (4,).

    To first order, and in the sigmas that the fit scaled up by its residuals.

    References
    ----------
    Cook & Weisberg, "Residuals and influence in regression", 1982, section 3.6: r' (I - H)^-1 r
    for a group of observations with residuals r and the hat matrix H (from memory).
    """
    solution = fit.solution
    residual, by_camera, by_own = seen.linearise(solution.camera, solution.own[0])
    free = solution.own_free[0]
    jacobian = np.concatenate([by_camera, by_own[:, free]], axis=1)
    known = jacobian.shape[1]
    foreseen, start = np.zeros(4), 0
    for i, side in enumerate(seen.sides):
        rows, start = slice(start, start + len(side)), start + len(side)
        factor = max(float(solution.variance_factors[0][i]), 1.0)
        scale = np.sqrt(huber_weights(residual[rows]) / factor)
        r, j = residual[rows] * scale, jacobian[rows] * scale[:, None]
        left = np.eye(len(r)) - j @ solution.joint[:known, :known] @ j.T
        foreseen[i] = r @ np.linalg.solve(left, r) - misfit[i] / factor
    return foreseen


def _without(seen: ReferenceObservation, odd: int) -> ReferenceObservation:
    sides = tuple(no_samples() if i == odd else side for i, side in enumerate(seen.sides))
    return replace(seen, sides=sides)


BENT_FACTOR = 2.0
"""Edges of a room that bow this much more than buildings' edges usually do are bent by the picture.
(Whole photographs: at most 1.6. Rendered rooms bent round a cylinder: 2.4 to 4.3.)"""


def refuse_bent(fit: LineFit, terms: ModelTerms) -> None:
    """Refuse a picture in which straight edges stay bent, whatever the lens, as in a panorama."""
    if fit.bow_share < BENT_FACTOR * terms.bow_share:
        return
    raise MeasurementError(
        "Straight edges of the room are bent in this photo, as in a panorama or through a "
        "fisheye lens.",
        hint="Take one ordinary photo, not a panorama; for a lens that bends, measure it first "
        "with a printed target.",
    )


LEAN_SIGMAS, LEAN_DEG = 6.0, 6.0
"""A reference that leans this much against the room's lines is not on the wall."""
AGREEMENT_DEG = 5.0
"""Edges whose leans agree to this tell of one direction; the hinge itself is a little off."""
STEEPEST_DEG = 45.0
"""Beyond this the edges run some other way: into the room, for one."""
LEAN_EXPLAINS = 20.0
"""By how much (minus twice the log likelihood) a lean must explain the lines better: some two long
edges more. (A sheet that leans 25 degrees in a drawn room: 52; upright in eleven rendered rooms: at
most 2.8.)"""
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
        degrees = _unheard_lean(best, long_side_px) or _lean_of_all_lines(best, long_side_px)
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
        loose = [i for i in lines if fit.directions[i].kind in ("straight", "away")]
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


def _lean_of_all_lines(fit: LineFit, long_side_px: int) -> float:
    """Lean in degrees about the level that explains the room's lines far better; 0 where none does.

    Level lines of the wall join the fit of a leaning sheet, and one or another of the rest is true
    to a wrong direction by chance: all are sorted again with that one turn left open.
    """
    camera = fit.solution.camera
    priors = LinePriors.of(fit.lines, long_side_px, ModelTerms())
    covariance = line_covariance(fit.solution)
    hinge = camera.rotation @ AXES["level"]
    covariance[:3, :3] += np.radians(STEEPEST_DEG / 2) ** 2 * np.outer(hinge, hinge)
    slack = np.full((len(fit.lines), len(KINDS)), np.radians(SLACK_DEG[-1]) ** 2)
    now = sort_lines(fit.lines, camera, priors, slack)
    other = propose_sortings(fit.lines, camera, covariance, priors)[0]
    turn = vector_from_rotation(other.camera.rotation @ camera.rotation.T)
    degrees = float(np.degrees(abs(turn @ hinge)))
    explained = now.misfit - other.misfit > LEAN_EXPLAINS
    return degrees if explained and LEAN_DEG < degrees < STEEPEST_DEG else 0.0


def _leans(normals: Array, hinge: Array, upright: Array) -> Array:
    """Angle (N,), degrees, about a hinge by which each line's direction leaves the upright.

    The line's direction is taken to be square to the hinge; it lies in the plane through camera
    and line.
    """
    along = np.cross(normals, hinge)
    along = along * np.sign(along @ upright)[:, None]
    return np.asarray(np.degrees(np.arctan2(along @ np.cross(hinge, upright), along @ upright)))

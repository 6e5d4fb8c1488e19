"""A side of the reference that is some other edge: told by what the others and the room say.

Beside a sheet on striped wallpaper runs an edge that is clearer than the sheet's own. A side read
off it is straight and sharp; only the whole shape, held against the room's lines, contradicts it.
It is left out: the other three still measure. Where none can be named, nothing is measured.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError
from visualiser.findings import Finding
from visualiser.rectification.adjustment import huber_sum, huber_weights
from visualiser.rectification.edges import no_samples
from visualiser.rectification.evidence import LineFit
from visualiser.rectification.observed_reference import ReferenceObservation
from visualiser.rectification.reference import EdgeSamples

Array = NDArray[np.float64]

CONTRADICTION = 40.0
"""Fall of the squared misfit without a side, in sigmas, beyond its own raggedness, that a right
side does not cause. (Right sides in rendered rooms: at most 32; one read off a stripe: 160.)"""
FORESEEN, STRAINED = 12.0, 3.0
"""Fall foreseen to first order, and mean squared residual over a side's own raggedness, below which
none is left out to see: the first misses a side that bends the room's lines to itself, the second
one that the other sides give way to."""
TELLING = 9.0
"""How much more its absence must explain than any other side's, in sigmas squared."""
NAMES = ("top", "right", "bottom", "left")

Refit = Callable[[ReferenceObservation], list[LineFit]]


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
        Fits the wall to another reading of the reference, best first.

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
    if foreseen.max() < FORESEEN and strained.max() < STRAINED:
        return seen, fits, []
    others = [_without(seen, i) for i in range(4)]
    tried = [refit(other) for other in others]
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
    return others[odd], tried[odd], [finding]


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


def own_misfit(side: EdgeSamples) -> float:
    """Robust squared misfit of a side's samples to a parabola of their own, in sigmas."""
    if len(side) < 4:
        return float(len(side))
    middle = side.points_px.mean(axis=0)
    across = np.median(side.normals_px, axis=0)
    t = (side.points_px - middle) @ np.array([-across[1], across[0]])
    off = (side.points_px - middle) @ across / side.sigma_px
    basis = np.vander(t / max(float(np.abs(t).max()), 1e-9), 3) / side.sigma_px[:, None]
    weight = np.ones(len(off))
    for _ in range(8):
        root = np.sqrt(weight)
        curve = np.linalg.lstsq(basis * root[:, None], off * root, rcond=None)[0]
        residual = off - basis @ curve
        weight = huber_weights(residual)
    return huber_sum(residual)


def _without(seen: ReferenceObservation, odd: int) -> ReferenceObservation:
    sides = tuple(no_samples() if i == odd else side for i, side in enumerate(seen.sides))
    return replace(seen, sides=sides)

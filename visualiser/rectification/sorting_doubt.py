"""What the doubt about each line's direction adds to the camera's covariance.

A fit takes every line for what it most likely is. It may be meant so and crooked, as what hangs by
eye is, or run another way altogether.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.line_observation import LINE_TURN, PER_LINE
from visualiser.rectification.camera.projection import CAMERA_SIZE
from visualiser.rectification.fit_lines import LineFit
from visualiser.rectification.lines.classify import line_normals
from visualiser.rectification.lines.priors import AXIS_OF, KINDS, LinePriors

Array = NDArray[np.float64]

FREE_INFORMATION = 1 / np.radians(45.0) ** 2
"""What is known of the direction of a line that may run anyhow, rad^-2."""


def sorting_covariance(fit: LineFit) -> Array:
    """Find the covariance (11, 11) that the sorting's own doubt adds to the camera's.

    Held as loosely as things that hang by eye, or not at all, a line would leave the camera
    elsewhere and less well known (to first order). How likely that is follows from how far it
    strays, and how unsurely, once it has no part in the fit: one that nothing else can check is no
    surer than lines like it are beforehand. So it would by another sorting of all lines.

    Parameters
    ----------
    fit
        The camera adjusted to references and lines.
    """
    added = np.zeros((CAMERA_SIZE, CAMERA_SIZE))
    for share, change in fit.rivals:
        added += share * np.outer(change, change)
    if fit.priors is None:
        return added
    solution, priors = fit.solution, fit.priors
    normals, _ = line_normals(fit.lines, solution.camera)
    misses = normals @ (AXIS_OF @ solution.camera.rotation.T).T
    # Only the last observation's shared turns are ever held: its lines' come first, all free.
    before = CAMERA_SIZE + sum(int(free.sum()) for free in solution.own_free[:-1])
    for i, direction in enumerate(fit.directions):
        if direction.kind == "straight":
            continue
        k = KINDS.index(direction.kind)
        place = before + PER_LINE * i + LINE_TURN
        turn = float(solution.own[-1][PER_LINE * i + LINE_TURN])
        variance = float(solution.joint[place, place])
        gain = solution.joint[:CAMERA_SIZE, place] / variance
        held = 1 / direction.sigma_rad**2
        alone = _held_by(FREE_INFORMATION, held, turn, variance)
        loose = _held_by(float(priors.crooked_sigma[i, k]) ** -2, held, turn, variance)
        chances = _chances(priors, i, k, misses, alone)
        for chance, (other, spread) in zip(chances, (loose, alone), strict=True):
            second_moment = (other - turn) ** 2 + max(spread - variance, 0.0)
            added += chance * second_moment * np.outer(gain, gain)
    return added


def _held_by(information: float, held: float, turn: float, variance: float) -> tuple[float, float]:
    """Find a line's turn and its variance, were it held to its direction by other information."""
    known = max(1 / variance - held, 0.0) + min(information, held)
    return turn / variance / known, 1 / known


def _chances(
    priors: LinePriors, line: int, k: int, misses: Array, alone: tuple[float, float]
) -> tuple[float, float]:
    """Find how likely a line is crooked, and how likely something else, from its free turn."""
    off, extra = misses.copy(), np.zeros_like(misses)
    off[line, k], extra[line, k] = alone
    true, crooked, _ = priors.taken(off, extra)
    return float(crooked[line, k]), 1 - float(true[line, k] + crooked[line, k])

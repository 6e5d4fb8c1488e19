"""What the doubt about each line's direction adds to the camera's covariance.

A fit takes every line for what it most likely is. It may be meant so and crooked, as what hangs by
eye is, or run another way altogether; and what stands beside it, as the other sides of a frame do,
strays with it.
"""

from __future__ import annotations

import itertools
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.line_observation import (
    LINE_TURN,
    PER_LINE,
    PER_THING,
    ROLL,
    TURNING,
    Hung,
)
from visualiser.rectification.camera.projection import CAMERA_SIZE
from visualiser.rectification.fit_lines import LineFit
from visualiser.rectification.lines.classify import line_normals
from visualiser.rectification.lines.hung import ROLL_SHARES, ROLL_SIGMAS
from visualiser.rectification.lines.priors import AXIS_OF, KINDS, LinePriors

Array = NDArray[np.float64]

COMPANION = 0.25
"""Lines whose strays are as alike as this are doubted together."""
MOST_THINGS = 6
"""Hung things of which all ways to hang are weighed together."""
FREE_INFORMATION = 1 / np.radians(45.0) ** 2
"""What is known of the direction of a line that may run anyhow, rad^-2."""


def sorting_covariance(fit: LineFit) -> Array:
    """Find the covariance (11, 11) that the sorting's own doubt adds to the camera's.

    Held as loosely as things that hang by eye, or not at all, a line and its companions would leave
    the camera elsewhere and less well known (to first order). How likely that is follows from how
    far the line strays, and how unsurely, once they have no part in the fit: one that nothing else
    can check is no surer than lines like it are beforehand. So it would by another sorting of all
    lines.

    Parameters
    ----------
    fit
        The camera adjusted to references and lines.
    """
    added = np.zeros((CAMERA_SIZE, CAMERA_SIZE))
    for share, change in fit.rivals:
        added += share * np.outer(change, change)
    if fit.unsettled is not None:
        added += np.outer(fit.unsettled, fit.unsettled)
    if fit.priors is None:
        return added
    camera, priors = fit.solution.camera, fit.priors
    normals, _ = line_normals(fit.lines, camera)
    misses = normals @ (AXIS_OF @ camera.rotation.T).T
    kinds = np.array([direction.kind for direction in fit.directions])
    held = np.array([1 / direction.sigma_rad**2 for direction in fit.directions])
    for i in np.flatnonzero(kinds != "straight"):
        k = KINDS.index(kinds[i])
        group = np.flatnonzero((kinds == kinds[i]) & (priors.alike[i] > COMPANION))
        place = int(np.flatnonzero(group == i)[0])
        turns = _Turns.of(fit, group)
        alone = turns.held_by(np.full(len(group), FREE_INFORMATION), held[group])
        # Crooked together they are no surer than one of them.
        crooked = priors.crooked_sigma[group, k] ** -2 / len(group)
        loose = turns.held_by(crooked, held[group])
        chances = _chances(
            priors, int(i), k, misses, float(alone.turn[place]), float(alone.block[place, place])
        )
        for chance, other in zip(chances, (loose, alone), strict=True):
            moved = turns.gain @ (other.turn - turns.turn)
            wider = turns.gain @ (other.block - turns.block) @ turns.gain.T
            # Each of the group tells of it once.
            added += chance / len(group) * (np.outer(moved, moved) + wider)
    return added + _hanging_covariance(fit)


def _hanging_covariance(fit: LineFit) -> Array:
    """Find what is added (11, 11) by not knowing which hung things hang true.

    The fit holds each as it most likely hangs. By chance two may hang alike and both askew: every
    way in which some hang true and the others by eye is weighed by how well it explains how they
    were found to hang, once nothing is assumed of it.
    """
    solution = fit.solution
    rolls = np.flatnonzero(_is_roll(fit))
    none = np.zeros((CAMERA_SIZE, CAMERA_SIZE))
    if not len(rolls):
        return none
    before = CAMERA_SIZE + sum(int(free.sum()) for free in solution.own_free[:-1])
    free = solution.own_free[-1]
    places = before + np.cumsum(free)[rolls] - 1
    held = np.array([one.roll_rad for one in _hung(fit)]) ** -2.0
    # The things that tell most of the camera; of many the rest stays as it was taken.
    gain = np.linalg.solve(
        solution.joint[np.ix_(places, places)], solution.joint[:CAMERA_SIZE, places].T
    ).T
    told = np.argsort(-np.linalg.norm(gain[:3], axis=0), kind="stable")[:MOST_THINGS]
    rolls, places, held = rolls[told], places[told], held[told]
    block = np.asarray(solution.joint[np.ix_(places, places)])
    gain = np.linalg.solve(block, solution.joint[:CAMERA_SIZE, places].T).T
    found = solution.own[-1][rolls]
    whole = np.linalg.inv(block)
    alone = whole - np.diag(held) + 1e-6 * np.diag(held)
    pull = whole @ found
    weights, means, spreads = [], [], []
    for ways in itertools.product(range(len(ROLL_SIGMAS)), repeat=len(rolls)):
        sigmas, shares = ROLL_SIGMAS[list(ways)], ROLL_SHARES[list(ways)]
        spread = np.linalg.inv(alone + np.diag(1 / sigmas**2))
        mean = spread @ pull
        score = 2 * np.log(shares / sigmas).sum() + np.linalg.slogdet(spread)[1] + pull @ mean
        weights.append(score / 2)
        means.append(mean - found)
        spreads.append(spread)
    weight = np.exp(np.array(weights) - max(weights))
    weight /= weight.sum()
    mean, spread = np.array(means), np.array(spreads)
    second = np.einsum("w,wij->ij", weight, spread) + np.einsum("w,wi,wj->ij", weight, mean, mean)
    return np.asarray(gain @ (second - block) @ gain.T)


def _hung(fit: LineFit) -> list[Hung]:
    things = {d.hung.thing: d.hung for d in fit.directions if d.hung is not None}
    return [things[number] for number in sorted(things)]


def _is_roll(fit: LineFit) -> NDArray[np.bool_]:
    """Which own parameters of the lines are rolls of hung things."""
    first = PER_LINE * len(fit.directions) + len(TURNING) + ROLL
    rolls = np.zeros(len(fit.solution.own[-1]), bool)
    rolls[first::PER_THING] = True
    return rolls


class _Turns(NamedTuple):
    """Turns (G,) of some lines against their directions, in a fit.

    Their covariance (G, G), and how the camera moves with them (11, G).
    """

    turn: Array
    block: Array
    gain: Array

    @classmethod
    def of(cls, fit: LineFit, group: NDArray[np.intp]) -> _Turns:
        """Look them up."""
        solution = fit.solution
        # Only the last observation's shared turns are ever held: its lines' come first, all free.
        before = CAMERA_SIZE + sum(int(free.sum()) for free in solution.own_free[:-1])
        own = PER_LINE * group + LINE_TURN
        block = np.asarray(solution.joint[np.ix_(before + own, before + own)])
        gain = np.linalg.solve(block, solution.joint[:CAMERA_SIZE, before + own].T).T
        return cls(solution.own[-1][own], block, np.asarray(gain))

    def held_by(self, information: Array, held: Array) -> _Turns:
        """Find what they would be, were each held (G,) by other information about it."""
        whole = np.linalg.inv(self.block)
        block = np.linalg.inv(whole + np.diag(np.minimum(information - held, 0.0)))
        return self._replace(turn=block @ whole @ self.turn, block=block)


def _chances(
    priors: LinePriors, line: int, k: int, misses: Array, turn: float, variance: float
) -> tuple[float, float]:
    """Find how likely a line is crooked, and how likely something else, from its free turn."""
    off, extra = misses.copy(), np.zeros_like(misses)
    off[line, k], extra[line, k] = turn, variance
    true, crooked, _ = priors.taken(off, extra)
    return float(crooked[line, k]), 1 - float(true[line, k] + crooked[line, k])

"""The joint least-squares adjustment: one camera that explains everything seen, and how well.

Gauss-Newton with Levenberg's damping on normal equations, steps bent along curved valleys; Huber
weights against stray samples; after the first solution each source's sigmas are scaled up where its
residuals say so.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.lens_profile import LensPrior
from visualiser.rectification.camera.observation import Block, Observation, blocks_of
from visualiser.rectification.camera.projection import CAMERA_SIZE, LENS, CameraState

Array = NDArray[np.float64]

HUBER_SIGMAS = 2.0
MAX_STEPS = 40
SETTLED = 2e-4
"""A sum of squares, in sigmas, that falls by less than this has settled."""
BENT_BELOW = 0.6
"""A step that kept less than this share of its promise had a curved way: the next one is bent."""
PROBE = 0.1
"""Share of a step at which its bend is measured."""
MOST_BEND = 0.75
"""A bend longer than this share of the step comes from beyond where the expansion holds."""
PIECE = 48
"""Rows of derivatives that are summed up at once."""
_CAMERA_PLACES = np.arange(CAMERA_SIZE)


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """An adjusted camera.

    Parameters
    ----------
    camera
        Pose and lens.
    covariance
        (11, 11) of the camera's parameters, everything else left free.
    own
        Own parameters of each observation.
    joint
        (P, P) covariance of the camera's parameters and then every free own one.
    own_free
        Which own parameters of each observation are free.
    variance_factors
        Mean squared residual of each group of each observation, in sigmas squared.
    cost
        Robust sum of squares before any scaling, priors included.
    steps
        How often everything was linearised to find it: what it took.
    """

    camera: CameraState
    covariance: Array
    own: tuple[Array, ...]
    joint: Array
    own_free: tuple[NDArray[np.bool_], ...]
    variance_factors: tuple[Array, ...]
    cost: float
    steps: int = 0

    @property
    def relative_covariance(self) -> Array:
        """Covariance (11, 11) of the camera's parameters, its place counted in distances.

        A camera as far again may stand anywhere among twice the millimetres, and is no likelier.
        """
        scale = np.ones(CAMERA_SIZE)
        scale[3:6] = 1 / self.camera.translation_mm[2]
        return np.asarray(self.covariance * np.outer(scale, scale))

    def covariance_with_own(self, observation: int, parameter: int) -> Array:
        """Covariance (12, 12) of the camera's parameters and one own parameter after them."""
        before = sum(int(f.sum()) for f in self.own_free[:observation])
        place = CAMERA_SIZE + before + int(self.own_free[observation][:parameter].sum())
        picked = [*range(CAMERA_SIZE), place]
        return np.asarray(self.joint[np.ix_(picked, picked)])


def adjust(
    start: CameraState,
    observations: Sequence[Observation],
    prior: LensPrior,
    *,
    scale_by_residuals: bool = True,
    most_steps: int = MAX_STEPS,
) -> Solution:
    """Fit one camera to all observations.

    Parameters
    ----------
    start
        Where to begin.
    observations, prior
        What is seen, and what is expected of the lens.
    scale_by_residuals
        Whether sigmas are scaled up where residuals say so, and all is fitted once more.
    most_steps
        Steps after which either fit ends where it is.

    References
    ----------
    Triggs, McLauchlan, Hartley & Fitzgibbon, "Bundle adjustment: a modern synthesis", 2000:
    sections 4.1 (normal equations), 3.3 (robust weights).
    """
    problem = _Problem(observations, prior, min(most_steps, MAX_STEPS))
    own = [o.own_start(start) for o in observations]
    factors = [np.ones(int(o.groups.max(initial=0)) + 1) for o in observations]
    camera, own, at = problem.minimise(start, own, factors)
    # The cost told is this one: scaled sigmas would hide a contradiction.
    cost = at.cost
    if scale_by_residuals:
        factors = problem.variance_factors(at.seen)
        if any((f > 1.2).any() for f in factors):
            camera, own, at = problem.minimise(camera, own, factors, at.seen)
            factors = problem.variance_factors(at.seen)
    covariance = _inverse(problem.normal_equations(camera, own, factors, at.seen).normal)
    return Solution(
        camera,
        covariance[:CAMERA_SIZE, :CAMERA_SIZE],
        tuple(own),
        covariance,
        tuple(problem.free),
        tuple(factors),
        cost,
        problem.steps,
    )


def huber_weights(residual: Array) -> Array:
    """Weights (N,) of residuals, in sigmas: 1 up to `HUBER_SIGMAS`, then less."""
    return np.minimum(1.0, HUBER_SIGMAS / np.maximum(np.abs(residual), 1e-12))


def huber_losses(residual: Array) -> Array:
    """Robust squares of residuals (N,), in sigmas: beyond `HUBER_SIGMAS` they grow linearly."""
    size = np.abs(residual)
    linear = HUBER_SIGMAS * (2 * size - HUBER_SIGMAS)
    return np.where(size <= HUBER_SIGMAS, size**2, linear)


def huber_sum(residual: Array) -> float:
    """Robust sum of squares of residuals (N,): see `huber_losses`."""
    return float(huber_losses(residual).sum())


def _product(weighted: Array, jacobian: Array) -> Array:
    """Multiply ``weighted.T @ jacobian`` in pieces of some rows.

    A product of some million terms is shared out over the processor's cores: where these are at
    work already, the parts wait for one another far longer than the sums take.
    """
    if len(jacobian) <= PIECE:
        return np.asarray(weighted.T @ jacobian)
    out = np.zeros((jacobian.shape[1],) * 2)
    for at in range(0, len(jacobian), PIECE):
        out += weighted[at : at + PIECE].T @ jacobian[at : at + PIECE]
    return out


def _inverse(normal: Array) -> Array:
    """Inverse of a positive matrix whose units differ wildly, positive as well.

    What observations leave quite open has an eigenvalue lost in rounding, of either sign: it is
    taken for as small as rounding can tell, and so as unsure.
    """
    scale = 1 / np.sqrt(np.diag(normal))
    values, vectors = np.linalg.eigh(normal * np.outer(scale, scale))
    values = np.maximum(values, len(values) * np.finfo(float).eps * values[-1])
    vectors = vectors * scale[:, None]
    return np.asarray((vectors / values) @ vectors.T)


class _Part(NamedTuple):
    """A block of one observation: its places, and residuals with derivatives, in sigmas."""

    place: NDArray[np.intp]
    residual: Array
    jacobian: Array
    weighted: Array


class _Equations(NamedTuple):
    """Normal equations at given values, and what they were made of."""

    normal: Array
    gradient: Array
    cost: float
    parts: list[_Part]
    seen: list[list[Block]]


class _Problem:
    """Observations with their places in the parameter vector."""

    def __init__(
        self, observations: Sequence[Observation], prior: LensPrior, most_steps: int
    ) -> None:
        self.observations = observations
        self.prior = prior
        self.sigmas = [o.own_sigma for o in observations]
        self.free = [s > 0 for s in self.sigmas]
        counts = np.cumsum([0, *(int(f.sum()) for f in self.free)])
        self.spans = [(int(a), int(b)) for a, b in itertools.pairwise(counts)]
        self.size = CAMERA_SIZE + int(counts[-1])
        self.groups = [o.groups for o in observations]
        self.information = np.linalg.inv(prior.covariance)
        self.most_steps, self.steps = most_steps, 0

    def linearised(self, camera: CameraState, own: Sequence[Array]) -> list[list[Block]]:
        """Residuals and derivatives of each observation, not yet scaled."""
        self.steps += 1
        pairs = zip(self.observations, own, strict=True)
        return [blocks_of(observation, camera, values) for observation, values in pairs]

    def normal_equations(
        self,
        camera: CameraState,
        own: Sequence[Array],
        factors: Sequence[Array],
        seen: list[list[Block]] | None = None,
    ) -> _Equations:
        """Set up normal matrix, gradient and cost; ``seen`` is what was linearised here before."""
        seen = self.linearised(camera, own) if seen is None else seen
        parts = []
        normal = np.zeros((self.size, self.size))
        gradient = np.zeros(self.size)
        deviation, information = self.prior.deviation(camera.lens), self.information
        normal[LENS, LENS] = information
        gradient[LENS] = information @ deviation
        cost = float(deviation @ information @ deviation)
        for i, blocks in enumerate(seen):
            scales = 1 / np.sqrt(np.maximum(factors[i], 1.0))[self.groups[i]]
            a, b = self.spans[i]
            free = self.free[i]
            numbers = CAMERA_SIZE + a + np.cumsum(free) - 1
            residuals = np.concatenate([block.part.residual for block in blocks]) * scales
            weights = huber_weights(residuals)
            cost += huber_sum(residuals)
            for rows, block_own, (_, by_camera, by_own) in blocks:
                picked = free[block_own]
                jacobian = np.concatenate([by_camera, by_own[:, picked]], axis=1)
                jacobian *= scales[rows, None]
                weighted = jacobian * weights[rows, None]
                place = np.concatenate([_CAMERA_PLACES, numbers[block_own[picked]]])
                normal[place[:, None], place] += _product(weighted, jacobian)
                gradient[place] += weighted.T @ residuals[rows]
                parts.append(_Part(place, residuals[rows], jacobian, weighted))
            held = 1 / self.sigmas[i][free] ** 2
            own_place = np.arange(CAMERA_SIZE + a, CAMERA_SIZE + b)
            normal[own_place, own_place] += held
            gradient[own_place] += held * own[i][free]
            cost += float((held * own[i][free] ** 2).sum())
        return _Equations(normal, gradient, cost, parts, seen)

    def minimise(
        self,
        camera: CameraState,
        own: Sequence[Array],
        factors: Sequence[Array],
        seen: list[list[Block]] | None = None,
    ) -> tuple[CameraState, list[Array], _Equations]:
        """Damped Gauss-Newton from a start; ``seen`` is what was linearised there before."""
        own = list(own)
        damping, rise, bent = 1e-5, 2.0, False
        at = self.normal_equations(camera, own, factors, seen)
        for _ in range(self.most_steps):
            scale = 1 / np.sqrt(np.diag(at.normal))
            scaled = at.normal * np.outer(scale, scale) + damping * np.eye(self.size)
            change = -scale * np.linalg.solve(scaled, scale * at.gradient)
            promised = -float(at.gradient @ change)
            if promised < SETTLED:
                break
            promised += damping * float(((change / scale) ** 2).sum())
            if bent:
                curve = self._curve(camera, own, factors, at, change)
                bend = -scale * np.linalg.solve(scaled, scale * curve) / 2
                if np.linalg.norm(bend / scale) < MOST_BEND * np.linalg.norm(change / scale):
                    change = change + bend
            new_camera, new_own = self._moved(camera, own, change)
            new = self.normal_equations(new_camera, new_own, factors)
            if np.isfinite(new.cost) and new.cost <= at.cost and new_camera.translation_mm[2] > 0:
                gain = at.cost - new.cost
                camera, own, at = new_camera, new_own, new
                kept = gain / max(promised, 1e-12)
                bent = bent or kept < BENT_BELOW
                # Nielsen's rule: no less damping after a step that kept half of its promise.
                damping *= max(1 / 8, 1 - (2 * kept - 1) ** 3)
                damping, rise = max(damping, 1e-9), 2.0
                if gain < SETTLED:
                    break
            else:
                damping, rise, bent = damping * rise, 2 * rise, True
                if damping > 1e6:
                    break
        return camera, own, at

    def _curve(
        self,
        camera: CameraState,
        own: Sequence[Array],
        factors: Sequence[Array],
        at: _Equations,
        change: Array,
    ) -> Array:
        """Find what bends the way of a step: second derivatives of the residuals along it.

        Focal length, principal point and pose hide behind one another along a curved valley; a
        straight step leaves its floor, and short steps take hundreds.

        References
        ----------
        Transtrum & Sethna, "Improvements to the Levenberg-Marquardt algorithm for nonlinear least-
        squares minimization", 2012: geodesic acceleration, equation (9) for the finite difference
        (numbers from memory).
        """
        near_camera, near_own = self._moved(camera, own, PROBE * change)
        curve = np.zeros(self.size)
        parts = iter(at.parts)
        for i, blocks in enumerate(self.linearised(near_camera, near_own)):
            scales = 1 / np.sqrt(np.maximum(factors[i], 1.0))[self.groups[i]]
            for rows, _, near in blocks:
                part = next(parts)
                slope = part.jacobian @ change[part.place]
                away = (near.residual * scales[rows] - part.residual) / PROBE
                curve[part.place] += part.weighted.T @ (2 / PROBE * (away - slope))
        return curve

    def _moved(
        self, camera: CameraState, own: Sequence[Array], change: Array
    ) -> tuple[CameraState, list[Array]]:
        moved = []
        for (a, b), free, old in zip(self.spans, self.free, own, strict=True):
            new = old.copy()
            new[free] += change[CAMERA_SIZE + a : CAMERA_SIZE + b]
            moved.append(new)
        return camera.moved(change[:CAMERA_SIZE]), moved

    def variance_factors(self, seen: list[list[Block]]) -> list[Array]:
        """Mean squared residual of each group, stray samples clipped."""
        factors = []
        for blocks, groups, sigmas in zip(seen, self.groups, self.sigmas, strict=True):
            square = np.clip(np.concatenate([b.part.residual for b in blocks]), -4, 4) ** 2
            count = np.bincount(groups)
            used = int((sigmas == np.inf).sum()) / max((count > 0).sum(), 1)
            spare = np.maximum(count - used, 1.0)
            factors.append(np.bincount(groups, square) / spare)
        return factors

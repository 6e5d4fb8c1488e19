"""Estimate from a photo's uprights whether an editor straightened its perspective.

A phone is held by hand: a room's plumb edges converge by some degrees and lean by one or two. An
editor that straightens a picture makes them parallel to its sides, to the tenth of a degree. Such a
picture is a part of a turned one: its axis lies elsewhere than in its middle. Both are weighed
before any lens is fitted, by how likely each would show the uprights as they are seen.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.lines.detect import RoomLine
from visualiser.rectification.lines.hung import ROLL_SHARES, ROLL_SIGMAS
from visualiser.rectification.lines.priors import KINDS, LinePriors
from visualiser.rectification.lines.things import NONE

Array = NDArray[np.float64]

STRAIGHTENED_SHARE = 0.05
"""Share of photos that an editor straightened (common practice, no source)."""
HELD_DEG = ((0.85, 1.0, 5.5), (0.15, 0.8, 0.7))
"""Ways to hold a phone: their shares, and how far it is rolled and tipped (one sigma): by hand, and
by the level that it shows. (51 photographs of York Urban: rolled 0.8, tipped 6.5; of 22 taken
indoors 5 are tipped by half a degree or less.)"""
LEFT_DEG = ((1.0, 0.06, 0.1),)
"""The same of what an editor leaves."""
STEEP = 0.35
"""Tangent of the angle from the picture's sides up to which an edge may be an upright."""
TRUE_SHARE, CROOKED_SHARE = 0.75, 0.2
"""Share of steep edges that are plumb as buildings are, and that are meant to be (see `priors`)."""
STARTS, ROUNDS = 8, 12
"""Longest uprights of which every two propose a pose, and rounds in which each settles."""
PLUMB = KINDS.index("plumb")


def straightened_chance(
    lines: Sequence[RoomLine],
    size_px: tuple[int, int],
    focal_px: float,
    k1_sigma: float,
) -> float:
    """Work out the chance that a photo's perspective was straightened, beyond the usual.

    That any photo may have been, whatever it shows, is in what its file says of its frame.

    Parameters
    ----------
    lines
        Room lines.
    size_px
        Width and height of the picture.
    focal_px
        Focal length, as far as it is known: what a tip of the phone does depends on it.
    k1_sigma
        Standard uncertainty of the lens's distortion.

    References
    ----------
    D. J. C. MacKay, "Bayesian interpolation", Neural Computation 4, 1992 (from memory): evidence.
    """
    seen = _Uprights.of(lines, size_px, focal_px)
    if seen is None:
        return 0.0
    held, edited = (
        np.logaddexp.reduce(
            [math.log(share) + seen.evidence(roll, tip, k1_sigma) for share, roll, tip in ways]
        )
        for ways in (HELD_DEG, LEFT_DEG)
    )
    odds = STRAIGHTENED_SHARE / (1 - STRAIGHTENED_SHARE)
    odds *= math.exp(float(np.clip(edited - held, -50, 50)))
    usual = STRAIGHTENED_SHARE
    return max(odds / (1 + odds) - usual, 0.0) / (1 - usual)


class _Uprights:
    """Steep edges of a picture, their misses linear in roll, tip and distortion.

    An edge through (x, y) with slope dx/dy = m points at the vanishing point of (p, -1, q) where
    m + p + q (m y - x) = 0; a lens with k1 turns it by 2 k1 x y.
    """

    def __init__(
        self, slope: Array, design: Array, sigmas: Array, shares: Array, count: Array
    ) -> None:
        self.slope, self.design = slope, design
        self.sigmas, self.shares, self.count = sigmas, shares, count

    @classmethod
    def of(
        cls, lines: Sequence[RoomLine], size_px: tuple[int, int], focal_px: float
    ) -> _Uprights | None:
        """Pick the steep ones; None where there is none."""
        steep = [line for line in lines if abs(line.heading[0]) < STEEP * abs(line.heading[1])]
        if not steep:
            return None
        priors = LinePriors.of(steep, max(size_px), ModelTerms())
        middle = (np.array(size_px) - 1) / 2
        rows = []
        for line in steep:
            points = line.samples.points_px
            centre = points.mean(axis=0)
            along = np.linalg.svd(points - centre, full_matrices=False)[2][0]
            rows.append([*((centre - middle) / focal_px), along[0] / along[1]])
        x, y, slope = np.array(rows).T
        hung = priors.things != NONE
        true = np.where(hung, ROLL_SIGMAS[0], priors.true_sigma[:, PLUMB])
        shares = np.tile([TRUE_SHARE, CROOKED_SHARE], (len(steep), 1))
        shares[hung] = ROLL_SHARES * (TRUE_SHARE + CROOKED_SHARE)
        count = priors.own_share.copy()
        # Sides of one hung thing are one witness.
        for thing in np.unique(priors.things[hung]):
            count[priors.things == thing] = 1 / (priors.things == thing).sum()
        sigmas = np.stack([true, np.full(len(steep), ROLL_SIGMAS[1])], axis=1)
        design = np.stack([np.ones_like(x), slope * y - x, -2 * x * y], axis=1)
        return cls(slope, design, sigmas, shares, count)

    def evidence(self, roll_deg: float, tip_deg: float, k1_sigma: float) -> float:
        """Logarithm of how likely the uprights are, the camera held so (Laplace's evidence)."""
        held = np.diag([np.radians(roll_deg), np.radians(tip_deg), max(k1_sigma, 1e-6)])
        information = np.linalg.inv(held**2)
        poses = self._starts(information)
        for _ in range(ROUNDS):
            weight = self._likelihood(poses)[1]
            left = information + np.einsum("hl,la,lb->hab", weight, self.design, self.design)
            right = -np.einsum("hl,la->ha", weight * self.slope, self.design)
            poses = np.linalg.solve(left, right[..., None])[..., 0]
        likelihood = self._likelihood(poses)[0]
        score = likelihood - 0.5 * np.einsum("ha,ab,hb->h", poses, information, poses)
        score -= 0.5 * (np.linalg.slogdet(left)[1] - np.linalg.slogdet(information)[1])
        return float(score.max())

    def _starts(self, information: Array) -> Array:
        """Poses (H, 3) that none, or two of the first uprights, propose."""
        first = range(min(len(self.slope), STARTS))
        poses: list[Array] = [np.zeros(3)]
        for pair in combinations(first, 2):
            design, slope = self.design[list(pair)], self.slope[list(pair)]
            weight = 1 / self.sigmas[list(pair), 0] ** 2
            left = information + design.T @ (weight[:, None] * design)
            poses.append(np.asarray(-np.linalg.solve(left, design.T @ (weight * slope))))
        return np.array(poses)

    def _likelihood(self, poses: Array) -> tuple[Array, Array]:
        """Logarithm (H,) of how likely all are, and the weight (H, L) of each for the next pose."""
        off = (self.slope + poses @ self.design.T)[..., None]
        density = self.shares * np.exp(-0.5 * (off / self.sigmas) ** 2) / self.sigmas
        density = density / np.sqrt(2 * np.pi)
        anyhow = (1 - self.shares.sum(axis=1)) / (2 * STEEP)
        whole = density.sum(axis=-1) + anyhow
        weight = (density / whole[..., None] / self.sigmas**2).sum(axis=-1) * self.count
        return (np.log(whole) * self.count).sum(axis=-1), weight

"""Which edges are straight, and what that says of the lens (the plumb-line method).

A straight edge that looks bent tells the distortion; a sofa's seam that is bent tells nothing.
All lines vote on one k1, each for the value that straightens it, and those that no common value
straightens are bent themselves. What is bent has to be explained as well: its samples stray from a
curve of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.adjustment import huber_sum, huber_weights
from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.camera.terms import BOW_SHARE
from visualiser.rectification.lines.building import scale_of
from visualiser.rectification.lines.detect import RoomLine
from visualiser.rectification.lines.priors import ANYHOW_DENSITY, LinePriors
from visualiser.rectification.reference import EdgeSamples

Array = NDArray[np.float64]

LEAST_BOW_PX = 0.25
"""What pixels leave unsure of it, however straight the edge."""
CUT_SIGMAS = 3.5
SCALING_ROUNDS = 4
"""Rounds in which the lens, what is straight and how straight that is settle."""
BENT_SHARE, BENT_BOW_SHARE = 0.05, 0.01
"""Share of found edges that are bent, and how far their middles stray from their chords (one
sigma), as a share of their length."""
K1_REACH = 4.0
"""How many of its sigmas k1 is looked for on either side."""
K1_MOST = 0.5
"""Never further than this: such a lens folds the picture over itself."""


def vote_on_distortion(
    lines: Sequence[RoomLine], lens: Lens, k1_sigma: float, bow_share: float = BOW_SHARE
) -> tuple[float, NDArray[np.bool_]]:
    """Find the k1 that straightens most length of line.

    Parameters
    ----------
    lines
        Room lines.
    lens
        Lens expected beforehand.
    k1_sigma
        Standard uncertainty of its k1.
    bow_share
        How far the middle of a straight edge strays from its chord, as a share of its length.

    Returns
    -------
    k1, and which lines (N,) it leaves straight.

    References
    ----------
    D. C. Brown, "Close-range camera calibration", Photogrammetric Engineering 37(8), 1971: the
    plumb-line method.
    """
    if not lines:
        return lens.k1, np.zeros(0, bool)
    knots = lens.k1 + min(K1_REACH * k1_sigma, K1_MOST) * np.linspace(-1, 1, 7)
    sags = np.array([_sags(lines, replace(lens, k1=float(k1))) for k1 in knots])
    length = np.array([line.length_px for line in lines])
    weight = np.sqrt(length / length.max())
    fine = np.linspace(knots[0], knots[-1], 641)
    # Sag and sigma change smoothly with k1: cubics through seven values carry them.
    sag, sigma = (
        np.vander(fine - lens.k1, 4) @ np.polyfit(knots - lens.k1, sags[:, i], 3) for i in (0, 1)
    )
    usual = np.maximum(bow_share * length, 1e-9)
    scale = 1.0
    for _ in range(SCALING_ROUNDS):
        bow = np.maximum(scale * usual, LEAST_BOW_PX)
        score = sag / np.hypot(sigma, bow)
        price = (np.minimum(score**2, CUT_SIGMAS**2) * weight).sum(axis=1)
        price += ((fine - lens.k1) / k1_sigma) ** 2
        best = int(price.argmin())
        determined = bow**2 / (bow**2 + sigma[best] ** 2)
        straight = np.abs(score[best]) < CUT_SIGMAS
        strays = determined * sag[best] / usual
        scale = scale_of(strays[straight], determined[straight], scale)
    return float(fine[best]), straight


def prices_of_bent(
    lines: Sequence[RoomLine], priors: LinePriors, bow_share: float = BOW_SHARE
) -> Array:
    """Find what lines cost that are bent (N,), minus twice the logarithm of how likely they are.

    Their samples stray from curves of their own, and these bow and run anyhow. Measured as what
    straight lines cost is: a fit is no better for calling bent what it does not explain.

    Parameters
    ----------
    lines
        The lines.
    priors
        What is expected of them were they straight.
    bow_share
        How far the middle of a straight edge strays from its chord, as a share of its length.
    """
    own = np.array([own_misfit(line.samples) for line in lines])
    length = np.array([line.length_px for line in lines])
    straight, bent = (
        np.hypot(share * length, LEAST_BOW_PX) for share in (bow_share, BENT_BOW_SHARE)
    )
    odds = (1 - BENT_SHARE) / BENT_SHARE
    ratio = odds * np.maximum(bent / straight, 1.0) * priors.best_density / ANYHOW_DENSITY
    return np.asarray(own + 2 * np.log(ratio))


@lru_cache(maxsize=512)
def own_misfit(edge: EdgeSamples) -> float:
    """Sum up robust squares of an edge's misfit to a parabola of its own, in sigmas."""
    if len(edge) < 4:
        return float(len(edge))
    middle = edge.points_px.mean(axis=0)
    across = np.median(edge.normals_px, axis=0)
    t = (edge.points_px - middle) @ np.array([-across[1], across[0]])
    off = (edge.points_px - middle) @ across / edge.sigma_px
    basis = np.vander(t / max(float(np.abs(t).max()), 1e-9), 3) / edge.sigma_px[:, None]
    weight = np.ones(len(off))
    for _ in range(8):
        root = np.sqrt(weight)
        curve = np.linalg.lstsq(basis * root[:, None], off * root, rcond=None)[0]
        residual = off - basis @ curve
        weight = huber_weights(residual)
    return huber_sum(residual)


def _sags(lines: Sequence[RoomLine], lens: Lens) -> Array:
    """Rise of each line's middle over its chord after undistortion, px, and its sigma: (2, L)."""
    rays = lens.to_rays(np.concatenate([line.samples.points_px for line in lines]))
    ends = np.cumsum([len(line.samples) for line in lines])[:-1]
    out = []
    for line, points in zip(lines, np.split(rays * lens.focal_px, ends), strict=True):
        centred = points - points.mean(axis=0)
        along = np.linalg.svd(centred, full_matrices=False)[2][0]
        # The axis comes with either sign, and with it the sag: keep to the order of the samples.
        along = along * np.sign(along @ (points[-1] - points[0]) or 1.0)
        t = centred @ along
        t = t / max(float(np.abs(t).max()), 1e-9)
        v = centred @ np.array([-along[1], along[0]])
        weight = 1 / line.samples.sigma_px**2
        basis = np.stack([np.ones_like(t), t, t**2], axis=1)
        normal = basis.T @ (weight[:, None] * basis)
        inverse = np.linalg.inv(normal + 1e-9 * np.trace(normal) * np.eye(3))
        out.append((float((inverse @ (basis.T @ (weight * v)))[2]), float(np.sqrt(inverse[2, 2]))))
    return np.array(out).T

"""The corners of a quadrilateral as the points where its sampled sides meet, with their sigmas.

Tape and curl hide the corners themselves, so each is where two lines cross. A line is fitted so
that a block of samples on tape does not turn it, and is known the worse, the fewer samples it has
and the more they scatter: on a striped wall a side can be ten times worse than its neighbour.

Beside it, how far the sides of a likely sheet bow: paper curls a little, the inside of a letter
bends.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.rectification.reference import EdgeSamples
from visualiser.statistics import robust_sigma

Array = NDArray[np.float64]

MIN_CORNER_SIGMA_PX = 0.25
"""No corner of a real sheet is believed to better than this."""
MIN_SAMPLES = 3
"""Fewer samples give no line with an uncertainty."""
OUTLYING = 4.0
"""Samples this many scatters off the line do not count at all (Tukey's biweight)."""
MOST_ALIKE = 0.7
"""Correlation between neighbouring samples that is reckoned with at most: a side has few."""
PARALLEL = 0.05
"""Sine of the angle below which two sides do not meet usefully."""


def meeting_corners(corners_px: PointsPx, sides: tuple[EdgeSamples, ...]) -> tuple[Array, Array]:
    """Corners where the sampled sides meet.

    Parameters
    ----------
    corners_px
        (4, 2) approximate corners, clockwise; a side without samples stays where they put it.
    sides
        Samples of the sides: the first from corner 0 to corner 1.

    Returns
    -------
    Corners (4, 2) and their standard deviations in x and y (4, 2), px.
    """
    ends = [(corners_px[i], corners_px[(i + 1) % 4]) for i in range(4)]
    fits = [_line(samples, *end) for samples, end in zip(sides, ends, strict=True)]
    met = np.array(corners_px, float)
    sigma = np.full((4, 2), MIN_CORNER_SIGMA_PX)
    for i in range(4):
        (normal_a, offset_a, sigma_a), (normal_b, offset_b, sigma_b) = fits[i - 1], fits[i]
        normals = np.array([normal_a, normal_b])
        seen = len(sides[i - 1]) or len(sides[i])
        if seen and abs(np.linalg.det(normals)) > PARALLEL:
            inverse = np.linalg.inv(normals)
            met[i] = inverse @ [offset_a, offset_b]
            # Side i - 1 ends at this corner, side i starts there.
            spread = (inverse * [sigma_a[1], sigma_b[0]]) ** 2
            sigma[i] = np.maximum(np.sqrt(spread.sum(axis=1)), MIN_CORNER_SIGMA_PX)
    return met, sigma


def _wander(residual: Array) -> float:
    """Factor on the variance of a mean where neighbouring residuals go the same way.

    Bowed paper and the blocks of a JPEG move several samples together, which then count as fewer:
    by (1 + r) / (1 - r) at a correlation r from one to the next. A line fitted to N samples makes
    them look less alike by about 1 / N for each of its two parameters.

    References
    ----------
    Bayley & Hammersley, "The effective number of independent observations in an autocorrelated
    time series", J. R. Statist. Soc. Suppl. 8(2), 1946.
    """
    total = float((residual**2).sum())
    if len(residual) < 2 * MIN_SAMPLES or total == 0:
        return 1.0
    alike = float((residual[1:] * residual[:-1]).sum()) / total + 2 / len(residual)
    r = float(np.clip(alike, 0, MOST_ALIKE))
    return (1 + r) / (1 - r)


def _line(samples: EdgeSamples, start: Array, end: Array) -> tuple[Array, float, Array]:
    """Fit a line: its unit normal, offset along it, and its sigma at both ends of the side (2,)."""
    run = (end - start) / np.hypot(*(end - start))
    across = np.array([-run[1], run[0]])
    if len(samples) < MIN_SAMPLES:
        return across, float(across @ start), np.zeros(2)
    t, u = (samples.points_px - start) @ run, (samples.points_px - start) @ across
    # A block on tape can look sharper than those on a busy wall: none counts for much more.
    sigma = np.maximum(samples.sigma_px, 0.5 * np.median(samples.sigma_px))
    first, second = np.triu_indices(len(t), 1)
    apart = t[second] - t[first]
    slope = float(np.median((u[second] - u[first])[apart != 0] / apart[apart != 0]))
    basis = np.c_[np.ones_like(t), t - t.mean()]
    line = np.array([np.median(u - slope * (t - t.mean())), slope])  # Theil and Sen's
    for _ in range(4):
        residual = u - basis @ line
        scatter = max(float(robust_sigma(residual)), 0.02)
        weight = np.clip(1 - (residual / (OUTLYING * scatter)) ** 2, 0, 1) ** 2 / sigma**2
        covariance = np.linalg.pinv((basis * weight[:, None]).T @ basis)
        line = covariance @ (basis.T @ (weight * u))
    kept = weight * sigma**2
    residual = u - basis @ line
    misfit = float((weight * residual**2).sum() / max(kept.sum() - 2, 1.0))
    misfit *= _wander(np.sqrt(weight) * residual)
    at_ends = np.array([[1.0, -t.mean()], [1.0, float((end - start) @ run) - t.mean()]])
    variance = np.einsum("ij,jk,ik->i", at_ends, covariance, at_ends) * max(misfit, 1.0)
    if samples.look is not None:
        # What coding displaces a whole side by, no sample's scatter shows.
        variance += samples.look.shared_sigma_px**2
    normal = (across - line[1] * run) / np.hypot(1.0, line[1])
    on_line = start + t.mean() * run + line[0] * across
    return normal, float(normal @ on_line), np.sqrt(variance)


MIN_BOW_SAMPLES = 5
"""Fewer tell no bow."""


def bow_share(sides: tuple[EdgeSamples, ...]) -> float:
    """Bow of a quadrilateral's sides, each as a share of its length, as the median of all.

    A corner that has come loose bows two sides of a sheet; a round shape bows all four.

    Parameters
    ----------
    sides
        Samples of its sides; those with too few are passed over.

    Returns
    -------
    How far the middle of a side lies off the line between its ends, 0 where nothing tells.
    """
    bows = [_bow(side) for side in sides if len(side) >= MIN_BOW_SAMPLES]
    return float(np.median(bows)) if bows else 0.0


def _bow(samples: EdgeSamples) -> float:
    points = samples.points_px
    run = points[-1] - points[0]
    length = float(np.hypot(*run))
    if length == 0:
        return 0.0
    along, across = run / length, np.array([-run[1], run[0]]) / length
    t, u = (points - points[0]) @ along / length, (points - points[0]) @ across / length
    # A parabola a t² + b t + c lies a / 4 off its chord in the middle of a unit length.
    return abs(float(np.polyfit(t - 0.5, u, 2)[0])) / 4

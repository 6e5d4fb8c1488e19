"""The normal distribution, its quantiles, and scatter by the median."""

from __future__ import annotations

from functools import cache
from math import erfc

import numpy as np
from numpy.typing import ArrayLike, NDArray

COVERAGE_95 = 1.96
"""Coverage factor of a 95 % interval of a normal distribution: JCGM 100:2008, table G.1."""
MAD_TO_SIGMA = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation, 1 / Φ⁻¹(3/4):
Rousseeuw and Croux, "Alternatives to the median absolute deviation", JASA 88:1273, 1993."""

_KNOTS, _FURTHEST = 1024, 9.0
"""Knots of the table of Φ a unit, and from where on it is 0 or 1 to 1e-18."""


def normal_distribution(values: ArrayLike) -> NDArray[np.float64]:
    """Compute Φ, the share of a standard normal distribution that lies below each value.

    A Taylor series about the nearest knot of a table, good to 2e-15. SciPy's own needs longer to
    load than some commands to run.
    """
    z = np.asarray(np.clip(values, -_FURTHEST, _FURTHEST), np.float64)
    index = np.rint((z + _FURTHEST) * _KNOTS).astype(np.intp)
    knots, below, density = _table()
    knot = knots[index]
    past = z - knot
    # The density's derivatives over the density are Hermite polynomials (NIST DLMF, 18.5.10).
    series = past * (1 - past * (knot / 2 - past * ((knot * knot - 1) / 6)))
    return np.asarray(below[index] + density[index] * series)


@cache
def _table() -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Tabulate knots, Φ there, and the density."""
    knots = np.arange(round(2 * _FURTHEST * _KNOTS) + 1) / _KNOTS - _FURTHEST
    below = np.array([erfc(z) for z in (-knots / np.sqrt(2)).tolist()]) / 2
    return knots, below, np.exp(-0.5 * knots**2) / np.sqrt(2 * np.pi)


def robust_sigma(
    residuals: ArrayLike, axis: int | tuple[int, ...] | None = None
) -> NDArray[np.float64]:
    """Estimate the standard deviation of residuals about zero from the median of their sizes.

    Parameters
    ----------
    residuals
        Differences from what is expected, of any shape.
    axis
        Axes over which the median is taken; all when None.

    Returns
    -------
    Standard deviation for each of the axes that are left.
    """
    return np.asarray(MAD_TO_SIGMA * np.median(np.abs(residuals), axis=axis))

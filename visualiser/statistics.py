"""Normal quantiles and scatter by the median."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

COVERAGE_95 = 1.96
"""Coverage factor of a 95 % interval of a normal distribution: JCGM 100:2008, table G.1."""
MAD_TO_SIGMA = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation, 1 / Φ⁻¹(3/4):
Rousseeuw and Croux, "Alternatives to the median absolute deviation", JASA 88:1273, 1993."""


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

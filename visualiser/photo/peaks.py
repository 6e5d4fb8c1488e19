"""Where between samples a curve peaks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def peak_offset(values: NDArray[np.floating], at: int) -> float:
    """Where a parabola through a largest sample and its neighbours peaks, from that sample.

    Parameters
    ----------
    values
        (N,) samples, evenly spaced.
    at
        Index of the largest.

    Returns
    -------
    Samples, -0.5 to 0.5; 0 at either end, and where the neighbours do not lie lower.

    Examples
    --------
    >>> peak_offset(np.array([1.0, 3.0, 2.0]), 1)
    0.16666666666666666
    """
    if not 0 < at < len(values) - 1:
        return 0.0
    before, top, after = (float(v) for v in values[at - 1 : at + 2])
    bend = before - 2 * top + after
    return float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5)) if bend < 0 else 0.0

"""How far the sides of a likely sheet bow: paper curls a little, the inside of a letter bends."""

from __future__ import annotations

import numpy as np

from visualiser.rectification.reference import EdgeSamples

MIN_SAMPLES = 5
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
    bows = [_bow(side) for side in sides if len(side) >= MIN_SAMPLES]
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

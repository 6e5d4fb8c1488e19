"""Rectangles in a top view that may be outlines of pieces: from two corners facing each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from visualiser.laid_out.segments import Corners

Array = NDArray[np.float64]

FACING = np.radians(2.5)
"""Legs of opposite corners run against each other to within this."""
COVERED = 0.22
"""Share of each side that some segment has to run along, from either end."""
COVERED_SUM = 1.9
"""The same of all four together."""
ALIKE = 1.5
"""Rectangles whose corners differ by less than this, in samples, are one."""


def rectangles(corners: Corners, smallest: float, largest: float) -> Array:
    """Form rectangles (R, 4, 2), in samples, from pairs of corners that face each other.

    Parameters
    ----------
    corners
        Corners, as `find_corners` gives them.
    smallest, largest
        Bounds of a side, in samples.

    Returns
    -------
    Corners clockwise as seen (y down).
    """
    count = len(corners.at)
    if not count:
        return np.empty((0, 4, 2))
    angle = np.arctan2(corners.first[:, 1], corners.first[:, 0])
    order = np.argsort(angle, kind="stable")
    sorted_angle = angle[order]
    # Half of the pairs are enough: the corner of each whose first leg runs right.
    starts = np.flatnonzero((angle > -np.pi / 2) & (angle <= np.pi / 2))
    pairs_i, pairs_j = [], []
    for i in starts:
        wanted = angle[i] - np.pi if angle[i] > 0 else angle[i] + np.pi
        low, high = np.searchsorted(sorted_angle, [wanted - FACING, wanted + FACING])
        others = order[low:high]
        apart = corners.at[others] - corners.at[i]
        a, b = apart @ corners.first[i], apart @ corners.second[i]
        good = (a > smallest) & (a < largest) & (b > smallest) & (b < largest)
        others, a, b = others[good], a[good], b[good]
        covered = np.stack(
            [
                corners.first_length[i] / a,
                corners.second_length[i] / b,
                corners.first_length[others] / a,
                corners.second_length[others] / b,
            ]
        ).clip(0, 1)
        over = np.stack(
            [
                corners.first_length[i] - a,
                corners.second_length[i] - b,
                corners.first_length[others] - a,
                corners.second_length[others] - b,
            ]
        )
        # An edge of the outline ends at its corner; one that runs far on belongs to something else.
        good = (covered.min(axis=0) > COVERED) & (covered.sum(axis=0) > COVERED_SUM)
        good &= (over > 0.5 * np.minimum(a, b)).sum(axis=0) < 3
        pairs_i.append(np.full(good.sum(), i))
        pairs_j.append(others[good])
    one, other = np.concatenate(pairs_i), np.concatenate(pairs_j)
    a = corners.first[one] - corners.first[other]
    b = corners.second[one] - corners.second[other]
    # Square the mean directions to each other.
    turned = np.c_[b[:, 1], -b[:, 0]]
    a = a / np.linalg.norm(a, axis=1, keepdims=True)
    a = a + turned / np.linalg.norm(turned, axis=1, keepdims=True)
    a /= np.linalg.norm(a, axis=1, keepdims=True)
    b = np.c_[-a[:, 1], a[:, 0]]
    start, apart = corners.at[one], corners.at[other] - corners.at[one]
    wide = (apart * a).sum(axis=1)[:, None] * a
    high = (apart * b).sum(axis=1)[:, None] * b
    quads = np.stack([start, start + wide, start + wide + high, start + high], axis=1)
    return _distinct(quads)


def _distinct(quads: Array) -> Array:
    """Leave out rectangles that are an earlier one's, found by other corners."""
    if not len(quads):
        return quads
    from visualiser.rectification.quadrilaterals import clockwise

    quads = clockwise(quads)
    cells = np.round(quads.reshape(len(quads), -1) / ALIKE).astype(np.int64)
    _, first = np.unique(cells, axis=0, return_index=True)
    return np.asarray(quads[np.sort(first)])

"""Rectangles within rectangles: what tells a framed print, or its mat, from a loose sheet.

A framer centres: the print in the mat's window, the mat in the moulding, all sides parallel. Paper
taped to a wall lies so in the middle of a larger rectangle by chance only.
"""

from __future__ import annotations

import numpy as np

from visualiser.geometry import PointsPx

LEAST_BORDER, MOST_BORDER = 0.05, 0.8
"""Width of mat and moulding together, as a share of the inner rectangle's mean side. Less is the
same edge found twice, or a sheet's shadow."""
UNEVEN = 0.15
"""How far opposite borders may differ, as a share of their sum: mats are weighted at the bottom."""
AKIN_DEG = 2.5
"""Sides that are parallel in the room are so in a small quadrilateral's picture, to this angle."""
SIGMAS = 2.0
"""Slack for corners that are read badly."""


def lies_in_the_middle(inner: PointsPx, outers: PointsPx, sigma_px: float) -> bool:
    """Whether a quadrilateral lies in the middle of one of several others.

    Parameters
    ----------
    inner, outers
        (4, 2) and (Q, 4, 2) corners, clockwise from top-left, px.
    sigma_px
        Standard deviation of a corner of the others.
    """
    if not len(outers):
        return False
    run = np.roll(outers, -1, axis=1) - outers
    length = np.linalg.norm(run, axis=-1)
    tangent = run / np.maximum(length[..., None], 1e-9)
    outward = np.stack([tangent[..., 1], -tangent[..., 0]], axis=-1)
    own_run = np.roll(inner, -1, axis=0) - inner
    own_length = np.linalg.norm(own_run, axis=-1)
    # How far each side's middle lies within the outer one's side of the same name.
    border = ((outers - (inner + own_run / 2)) * outward).sum(axis=-1)  # (Q, 4)
    slope = np.abs((own_run * outward).sum(axis=-1)) / np.maximum(own_length, 1e-9)
    slack = SIGMAS * np.sqrt(2) * sigma_px
    akin = slope < np.sin(np.radians(AKIN_DEG)) + slack / length
    size = own_length.mean()
    wide = (border > LEAST_BORDER * size + slack) & (border < MOST_BORDER * size)
    total = border[:, :2] + border[:, 2:]
    even = np.abs(border[:, :2] - border[:, 2:]) < UNEVEN * total + slack
    return bool(((akin & wide).all(axis=1) & even.all(axis=1)).any())

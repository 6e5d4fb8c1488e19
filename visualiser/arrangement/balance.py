"""Two published measures of a picture's balance, on a field of visual weight.

They disagree by design: a square centred on a field is perfectly balanced to the one, and
unbalanced to the other, which also compares the inside with the outside. For a group on a wall
the deviation of the centre of mass is the usable one and is scored; the assessment of preference
for balance is stated beside it.

References
----------
A. Wilson and A. Chatterjee, "The assessment of preference for balance: introducing a new test",
Empirical Studies of the Arts 23(2):165-180, 2005.
R. Hübner and M. G. Fillinger, "Comparison of objective measures for predicting perceptual balance
and visual aesthetic preference", Front. Psychol. 7:335, 2016.
Code by C. Redies et al., Behav. Res. Methods 57(4):117, 2025, which counts one threshold bin twice
and shifts the centre of mass by a pixel; neither slip is followed here.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float64]
"""(H, W) visual weight; the first row is the top."""

FIELD_PX = 96
CORNERS = 2 - math.sqrt(2)
"""|x + y| beyond which two corner triangles of a field from -1 to 1 hold half of its area."""


def assessment_of_balance(field: Field) -> float:
    """Assessment of preference for balance, percent: 0 is balanced.

    Mean of eight differences: left and right, top and bottom, the two sides of either diagonal,
    and for each of the four the outer parts against the inner one.

    Raises
    ------
    ValueError
        If the field carries no weight or a negative one.
    """
    total = _total(field)
    # In whole numbers, so that a diagonal's own pixels lie exactly on it.
    height, width = field.shape
    y = ((2 * np.arange(height) + 1 - height) * width)[:, None] + np.zeros(width, dtype=int)
    x = ((2 * np.arange(width) + 1 - width) * height)[None] + np.zeros((height, 1), dtype=int)
    parts = []
    for along, share in ((x, 0.5), (y, 0.5), (x + y, CORNERS), (x - y, CORNERS)):
        outer = share * width * height
        parts.append(abs(field[along < 0].sum() - field[along > 0].sum()))
        outside = field[np.abs(along) > outer].sum()
        parts.append(abs(outside - (total - outside)))
    return float(100 * np.mean(parts) / total)


def deviation_of_centre(field: Field) -> float:
    """Deviation of the centre of mass, percent: 0 at the centre, 100 at the middle of a side.

    Raises
    ------
    ValueError
        If the field carries no weight or a negative one.
    """
    total = _total(field)
    height, width = field.shape
    y = ((2 * np.arange(height) + 1) / height - 1)[:, None]
    x = (2 * np.arange(width) + 1) / width - 1
    return float(100 * math.hypot((field * x).sum() / total, (field * y).sum() / total))


def weight_field(
    boxes: NDArray[np.float64], weights: NDArray[np.float64], pixels: int = FIELD_PX
) -> Field:
    """Spread the weight of pieces evenly over their rectangles, on the group's outline.

    Parameters
    ----------
    boxes
        (N, 4) left, bottom, right, top of each piece.
    weights
        (N,) what each weighs.
    pixels
        Rows and columns of the field.
    """
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    field = np.zeros((pixels, pixels))
    for box, weight in zip(boxes, weights, strict=True):
        start, stop = ((edge - low) / (high - low) * pixels for edge in (box[:2], box[2:]))
        shares = [_covered(start[axis], stop[axis], pixels) for axis in (0, 1)]
        field += weight * np.outer(shares[1], shares[0]) / (shares[0].sum() * shares[1].sum())
    return field[::-1]


def _covered(start: float, stop: float, pixels: int) -> NDArray[np.float64]:
    """Share of each pixel along a line that a stretch covers."""
    edges = np.arange(pixels + 1)
    return np.asarray(np.clip(np.minimum(edges[1:], stop) - np.maximum(edges[:-1], start), 0, 1))


def _total(field: Field) -> float:
    if field.ndim != 2 or field.min(initial=0.0) < 0 or not (total := float(field.sum())) > 0:
        raise ValueError("balance needs a field (H, W) of weights of 0 or more, not all 0")
    return total

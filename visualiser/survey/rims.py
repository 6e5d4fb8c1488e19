"""Widen what is found of a thing on the wall to its own rim: glass to casing, ribs to caps."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

STEP_SIGMAS, LEAST_STEP = 4.0, 0.04
"""What counts as an edge, in a line's usual steps and in the logarithm of light."""

OF_STRONGEST = 0.4
"""Share of the strongest step that an edge farther out must have: a shadow's end has less."""

OWN_EDGE_PX = 3
"""The box's own edge, blurred, reaches so far out."""

Box = tuple[int, int, int, int]


def out_to_rim(light: NDArray[np.float32], box: Box, reach_px: int) -> Box:
    """Widen a box to the outermost clear edge that runs along each of its sides close by.

    Parameters
    ----------
    light
        (H, W) logarithm of light, face on.
    box
        First column, first row, width and height.
    reach_px
        How far out is looked. A side without a clear edge there stays where it is.
    """
    column, row, width, height = box
    across, down = slice(column, column + width), slice(row, row + height)
    above = np.median(light[max(row - reach_px, 0) : row + 1, across], axis=1)[::-1]
    below = np.median(light[row + height - 1 : row + height + reach_px, across], axis=1)
    before = np.median(light[down, max(column - reach_px, 0) : column + 1], axis=0)[::-1]
    after = np.median(light[down, column + width - 1 : column + width + reach_px], axis=0)
    up, under, left, right = (_outermost(profile) for profile in (above, below, before, after))
    return column - left, row - up, width + left + right, height + up + under


def _outermost(profile: NDArray[np.floating]) -> int:
    """Pixels from a line's start to its farthest clear step's middle; 0 where there is none."""
    if len(profile) < OWN_EDGE_PX + 2:
        return 0
    steps = np.abs(np.diff(profile))
    steps[:OWN_EDGE_PX] = 0.0
    least = max(STEP_SIGMAS * float(np.median(steps)), LEAST_STEP, OF_STRONGEST * steps.max())
    clear = steps >= least
    if not clear.any():
        return 0
    last = first = int(np.flatnonzero(clear).max())
    while first > 0 and clear[first - 1]:
        first -= 1
    return first + int(np.argmax(steps[first : last + 1]))

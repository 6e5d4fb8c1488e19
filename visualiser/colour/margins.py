"""Leave out what is not the picture: an even border or mat all round, and glare."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from visualiser.colour.colorimetry import srgb_to_lab

EVEN_LAB = 6.0
"""A pixel belongs to a border when it lies this close (CIELAB) to the border's colour."""
EVEN_PART = 0.97
"""Part of a line that must do so for the whole line to be border."""
LEAST_PICTURE = 0.05
"""What is left after trimming must be this part of the area, or nothing is trimmed."""
GLARE_CODE = 250
"""All three channels at or above this are clipped light."""
GLARE_MOST = 0.08
"""Clipped light over more than this part of the picture is the picture, not glare."""
GLARE_EDGE_L = 12.0
"""Around glare the light falls off gently: L* just outside is above 100 less this."""


def picture_mask(rgb: NDArray[np.uint8], seen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where (H, W) the picture itself is, in a small picture (H, W, 3) of sRGB.

    Parameters
    ----------
    rgb
        sRGB, already reduced to a few hundred pixels a side.
    seen
        (H, W) pixels that count at all.
    """
    height, width = seen.shape
    mask = seen.copy()
    if min(height, width) >= 16 and seen.all():
        top, bottom, left, right = _inside_borders(rgb)
        if (bottom - top) * (right - left) >= LEAST_PICTURE * height * width:
            mask[:] = False
            mask[top:bottom, left:right] = True
    glare = _glare(rgb, mask)
    return mask & ~glare


def _inside_borders(rgb: NDArray[np.uint8]) -> tuple[int, int, int, int]:
    """Rows and columns [top, bottom), [left, right) inside up to three nested even borders."""
    top, left = 0, 0
    bottom, right = rgb.shape[:2]
    for _ in range(3):
        inner = rgb[top:bottom, left:right]
        if min(inner.shape[:2]) < 8:
            break
        outline = [srgb_to_lab(side) for side in (inner[0], inner[-1], inner[:, 0], inner[:, -1])]
        colour = np.median(np.concatenate(outline), axis=0)
        # A border goes all the way round; an even sky or floor does not.
        if not all(_even(side, colour).mean() >= EVEN_PART for side in outline):
            break
        even = _even(srgb_to_lab(inner), colour)
        rows, columns = even.mean(1) >= EVEN_PART, even.mean(0) >= EVEN_PART
        if rows.all():
            break
        # One line more: it holds the mixed colours of the edge.
        top, bottom = top + _run(rows) + 1, bottom - _run(rows[::-1]) - 1
        left, right = left + _run(columns) + 1, right - _run(columns[::-1]) - 1
        if bottom - top < 2 or right - left < 2:
            return 0, rgb.shape[0], 0, rgb.shape[1]
    return top, bottom, left, right


def _even(lab: NDArray[np.float64], colour: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which colours lie close to the border's."""
    return np.asarray(((lab - colour) ** 2).sum(-1) <= EVEN_LAB**2)


def _run(flags: NDArray[np.bool_]) -> int:
    """How many flags are set from the start without a break."""
    return int(len(flags) if flags.all() else flags.argmin())


def _glare(rgb: NDArray[np.uint8], mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Clipped patches with a soft edge: a reflection in the glazing, not white paint."""
    clipped = (rgb.min(axis=2) >= GLARE_CODE) & mask
    count = int(clipped.sum())
    if not 0 < count <= GLARE_MOST * mask.sum():
        return np.zeros_like(mask)
    import cv2

    groups, labels = cv2.connectedComponents(clipped.astype(np.uint8), connectivity=8)
    kernel = np.ones((5, 5), np.uint8)
    out = np.zeros_like(mask)
    if groups > 40:  # scattered points are grain or print dots
        return out
    for group in range(1, groups):
        patch = labels == group
        if patch.sum() < 4:
            continue
        grown = cv2.dilate(patch.astype(np.uint8), kernel).astype(bool)
        ring = grown & ~patch & mask
        if ring.any() and np.median(srgb_to_lab(rgb[ring])[:, 0]) >= 100 - GLARE_EDGE_L:
            out |= grown
    return out

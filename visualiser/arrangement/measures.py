"""What the score looks at, measured on many layouts at once.

Every measure takes layouts of the same pieces as an array (K, N, 2) of centres and gives (K,).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.setting import Centres, Setting

Floats = NDArray[np.float64]

LEAST_FACING = 0.12
"""Share of the smaller side along which two pieces must face each other to be neighbours."""
NEAR = 1.6
"""Gaps up to this many times the one aimed at join neighbours."""
LINE_SHARE = 0.02
"""Edges that differ by less than this share of the gap count as one line: 1 mm in 57."""


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """Raw measures of K layouts; lengths in mm, shares from 0 to 1.

    Parameters
    ----------
    gap_error
        Mean departure of the gaps between facing neighbours from the one aimed at, in gaps.
    aligned
        Share of neighbours that share an edge or a centre line.
    filled
        Share of the group's outline that frames and their gaps fill.
    lean
        (K, 2) centre of visual mass from the outline's centre, in outline widths and heights.
    focal
        Distance of the heaviest piece from the group's centre, in half diagonals.
    size
        (K, 2) width and height of the group.
    centre
        (K, 2) centre of the group.
    colour
        Colour difference of neighbours over that of any two pieces; NaN when not judged.
    """

    gap_error: Floats
    aligned: Floats
    filled: Floats
    lean: Floats
    focal: Floats
    size: Floats
    centre: Floats
    colour: Floats


def measure(
    centres: Centres,
    sizes: Floats,
    masses: Floats,
    gap_mm: float,
    labs: Floats | None = None,
) -> Measured:
    """Measure layouts (K, N, 2) of pieces with sizes (N, 2) or (K, N, 2)."""
    half = np.broadcast_to(sizes / 2, centres.shape)
    low, high = (centres - half).min(axis=1), (centres + half).max(axis=1)
    size, middle = high - low, (high + low) / 2
    area = np.prod(2 * half + gap_mm, axis=2).sum(axis=1)
    weights = np.broadcast_to(masses, centres.shape[:2])
    mass_centre = (centres * weights[..., None]).sum(axis=1) / weights.sum(axis=1)[:, None]
    heaviest = weights.argmax(axis=1)
    at = np.take_along_axis(centres, heaviest[:, None, None], axis=1)[:, 0]
    gap_error, aligned, colour = _neighbours(centres, half, gap_mm, labs)
    return Measured(
        gap_error=gap_error,
        aligned=aligned,
        filled=area / np.prod(size + gap_mm, axis=1),
        lean=(mass_centre - middle) / size,
        focal=np.hypot(*(at - middle).T) / (np.hypot(*size.T) / 2),
        size=size,
        centre=middle,
        colour=colour,
    )


def _neighbours(
    centres: Centres, half: Floats, gap: float, labs: Floats | None
) -> tuple[Floats, Floats, Floats]:
    """Departure of gaps, share of aligned neighbours, and colour contrast between neighbours."""
    count = centres.shape[1]
    layouts = centres.shape[0]
    if count == 1:
        return np.zeros(layouts), np.ones(layouts), np.full(layouts, np.nan)
    offset = centres[:, None, :, :] - centres[:, :, None, :]
    clear = np.abs(offset) - half[:, None] - half[:, :, None]
    smaller = 2 * np.minimum(half[:, None], half[:, :, None])
    shadow = -clear > LEAST_FACING * smaller
    line = LINE_SHARE * gap
    edge = half[:, None] - half[:, :, None]
    shared = (
        (np.abs(offset) < line) | (np.abs(offset + edge) < line) | (np.abs(offset - edge) < line)
    )
    total = np.zeros(layouts)
    met = np.zeros(layouts)
    on_line = np.zeros(layouts)
    pairs = np.zeros(layouts)
    contrast = np.zeros(layouts)
    differ = None if labs is None else np.linalg.norm(labs[:, None] - labs[None], axis=2)
    for axis, other in ((0, 1), (1, 0)):
        facing = shadow[..., other] & (clear[..., axis] > -1e-6)
        far = np.where(facing, clear[..., axis], np.inf)
        for side in (offset[..., axis] > 0, offset[..., axis] < 0):
            nearest = np.where(side, far, np.inf).min(axis=2)
            there = np.isfinite(nearest)
            off = np.where(there, np.minimum(np.abs(nearest - gap) / gap, 1.0), 0.0)
            total += off.sum(axis=1)
            met += there.sum(axis=1)
        near = facing & (clear[..., axis] < NEAR * gap)
        on_line += (near & shared[..., other]).sum(axis=(1, 2))
        pairs += near.sum(axis=(1, 2))
        if differ is not None:
            contrast += (near * differ).sum(axis=(1, 2))
    lone = met == 0
    gap_error = np.where(lone, 1.0, total / np.maximum(met, 1))
    aligned = np.where(pairs == 0, 0.0, on_line / np.maximum(pairs, 1))
    if differ is None or (mean := float(differ.sum()) / (count * (count - 1))) == 0:
        return gap_error, aligned, np.full(layouts, np.nan)
    return gap_error, aligned, contrast / np.maximum(pairs, 1) / mean


def measure_in(centres: Centres, setting: Setting) -> Measured:
    """Measure layouts (K, N, 2) of all the pieces of a setting."""
    return measure(centres, setting.sizes, setting.masses, setting.gap_mm, setting.labs)

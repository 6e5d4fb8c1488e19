"""What the score looks at, measured on many layouts at once.

Every measure takes layouts of the same pieces as an array (K, N, 2) of centres and gives (K,).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.setting import Centres, Setting

Floats = NDArray[np.float64]

LEAST_FACING = 0.12
"""Share of the smaller side along which two pieces must face each other to be neighbours."""
FAR = 1e12
"""Stands for no neighbour, mm."""
NEAR = 1.6
"""Gaps up to this many times the one aimed at join neighbours."""
CENTRED_CREDIT = 0.75
"""What a shared centre line counts for, where a shared edge counts 1."""
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
    corner
        Area of the largest empty rectangle in a corner of the outline, in mean pieces.
    lean
        (K, 2) centre of visual mass from the outline's centre, in outline widths and heights.
    focal
        Distance of the heaviest piece from the group's centre, in half diagonals; of the
        nearest one among those that weigh about the same.
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
    corner: Floats
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
    half = sizes / 2
    low, high = (centres - half).min(axis=1), (centres + half).max(axis=1)
    area = np.prod(sizes + gap_mm, axis=-1).sum(axis=-1)
    gap_error, aligned, colour = _neighbours(centres, half, gap_mm, labs)
    return replace(
        measure_outline(centres, sizes, masses, gap_mm),
        gap_error=gap_error,
        aligned=aligned,
        corner=_largest_corner(low, high, centres, half) * centres.shape[1] / area,
        colour=colour,
    )


def measure_outline(centres: Centres, sizes: Floats, masses: Floats, gap_mm: float) -> Measured:
    """Measure what takes no look at pairs of pieces; the rest as if it could not be better."""
    half = sizes / 2
    low, high = (centres - half).min(axis=1), (centres + half).max(axis=1)
    size, middle = high - low, (high + low) / 2
    area = np.prod(sizes + gap_mm, axis=-1).sum(axis=-1)
    weights = np.broadcast_to(masses, centres.shape[:2])
    mass_centre = (centres * weights[..., None]).sum(axis=1) / weights.sum(axis=1)[:, None]
    heavy = weights >= 0.95 * weights.max(axis=1)[:, None]
    off = np.where(
        heavy,
        np.hypot(centres[..., 0] - middle[:, :1], centres[..., 1] - middle[:, 1:]),
        np.inf,
    )
    none = np.zeros(len(centres))
    return Measured(
        gap_error=none,
        aligned=none + 1,
        filled=area / np.prod(size + gap_mm, axis=1),
        corner=none,
        lean=(mass_centre - middle) / size,
        focal=off.min(axis=1) / (np.hypot(*size.T) / 2),
        size=size,
        centre=middle,
        colour=none + np.nan,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """Pairs of pieces (K, N, N) seen along one axis."""

    clear: Floats
    """Clear distance; negative where the shadows on this axis overlap."""
    after: NDArray[np.bool_]
    """Whether the second piece comes after the first."""
    shadow: NDArray[np.bool_]
    """Whether they face each other enough, seen across this axis."""
    shared: Floats
    """Credit for an edge or a centre line that they share."""


def _along_axis(at: Floats, half: Floats, gap: float) -> _Line:
    """Compare all pairs along one axis; ``half`` is (N,) or (K, N)."""
    offset = at[:, None, :] - at[:, :, None]
    apart = np.abs(offset)
    one, two = half[..., None, :], half[..., :, None]
    clear = apart - (one + two)
    line = LINE_SHARE * gap
    flush = np.abs(apart - np.abs(one - two)) < line
    return _Line(
        clear=clear,
        after=offset > 0,
        shadow=clear < -2 * LEAST_FACING * np.minimum(one, two),
        shared=np.where(flush, 1.0, CENTRED_CREDIT * (apart < line)),
    )


def _largest_corner(low: Floats, high: Floats, centres: Centres, half: Floats) -> Floats:
    """Area (K,) of the largest empty rectangle that starts in a corner of the outline.

    Seen from a corner, piece i starts at (u_i, v_i). A rectangle (U, V) there is empty when for
    each piece U <= u_i or V <= v_i, so the largest has U at one of the u_i.
    """
    from_low, from_high = centres - half - low[:, None], high[:, None] - centres - half
    size = high - low
    best = np.zeros(len(centres))
    for u in (from_low[..., 0], from_high[..., 0]):
        wide = np.concatenate([u, size[:, :1]], axis=1)
        in_way = u[:, None, :] < wide[:, :, None] - 1e-6
        for v in (from_low[..., 1], from_high[..., 1]):
            tall = np.where(in_way, v[:, None, :], size[:, 1, None, None]).min(axis=2)
            best = np.maximum(best, (wide * tall).max(axis=1))
    return best


def _neighbours(
    centres: Centres, half: Floats, gap: float, labs: Floats | None
) -> tuple[Floats, Floats, Floats]:
    """Departure of gaps, share of aligned neighbours, and colour contrast between neighbours."""
    layouts, count = centres.shape[:2]
    if count == 1:
        return np.zeros(layouts), np.ones(layouts), np.full(layouts, np.nan)
    lines = [_along_axis(centres[..., axis], half[..., axis], gap) for axis in (0, 1)]
    total, met, on_line, pairs, contrast = (np.zeros(layouts) for _ in range(5))
    differ = None if labs is None else np.linalg.norm(labs[:, None] - labs[None], axis=2)
    for this, other in (lines, lines[::-1]):
        far = np.where(other.shadow & (this.clear > -1e-6), this.clear, FAR)
        for side in (this.after, this.after.swapaxes(1, 2)):
            nearest = np.where(side, far, FAR).min(axis=2)
            there = nearest < FAR
            total += np.where(there, np.minimum(np.abs(nearest - gap) / gap, 1.0), 0.0).sum(axis=1)
            met += there.sum(axis=1)
        near = far < NEAR * gap
        on_line += (near * other.shared).sum(axis=(1, 2))
        pairs += near.sum(axis=(1, 2))
        if differ is not None:
            contrast += (near * differ).sum(axis=(1, 2))
    gap_error = np.where(met == 0, 1.0, total / np.maximum(met, 1))
    aligned = np.where(pairs == 0, 0.0, on_line / np.maximum(pairs, 1))
    if differ is None or (mean := float(differ.sum()) / (count * (count - 1))) == 0:
        return gap_error, aligned, np.full(layouts, np.nan)
    return gap_error, aligned, contrast / np.maximum(pairs, 1) / mean


@dataclass(frozen=True, slots=True)
class Frame:
    """What a group is measured with.

    Parameters
    ----------
    host
        Centre x and y, width and height of an object that the group surrounds: it counts as one
        of the pieces, weighing by its area.
    rise
        Slope of the line that the group follows: heights are taken from that line.
    """

    host: tuple[float, float, float, float] | None = None
    rise: float = 0.0


PLAIN = Frame()


def measure_in(centres: Centres, setting: Setting, frame: Frame = PLAIN) -> Measured:
    """Measure layouts (K, N, 2) of all the pieces of a setting."""
    sizes, masses, labs = setting.sizes, setting.masses, setting.labs
    if frame.host is not None:
        centres, sizes, masses = with_host(centres, sizes, masses, frame.host)
        labs = None
    if frame.rise:
        middle = (centres[..., 0].min(axis=1) + centres[..., 0].max(axis=1)) / 2
        centres = centres.copy()
        centres[..., 1] -= frame.rise * (centres[..., 0] - middle[:, None])
    measured = measure(centres, sizes, masses, setting.gap_mm, labs)
    return measured if frame.host is None else about_host(measured, frame.host)


def about_host(m: Measured, host: tuple[float, float, float, float]) -> Measured:
    """Take the balance from left to right about the object instead of the outline's middle."""
    lean = m.lean.copy()
    lean[:, 0] += (m.centre[:, 0] - host[0]) / m.size[:, 0]
    return replace(m, lean=lean)


def with_host(
    centres: Centres,
    sizes: Floats,
    masses: Floats,
    host: tuple[float, float, float, float],
) -> tuple[Centres, Floats, Floats]:
    """Put an object first among the pieces of layouts (K, N, 2)."""
    count = len(centres)
    sizes = np.broadcast_to(sizes, centres.shape)
    weights = np.broadcast_to(masses, centres.shape[:2])
    per_area = weights.sum(axis=1) / np.prod(sizes, axis=2).sum(axis=1)
    own = host[2] * host[3] * per_area
    return (
        np.concatenate([np.full((count, 1, 2), host[:2]), centres], axis=1),
        np.concatenate([np.full((count, 1, 2), host[2:]), sizes], axis=1),
        np.concatenate([own[:, None], weights], axis=1),
    )

"""What the score looks at, measured on many layouts at once.

Every measure takes layouts of the same pieces as an array (K, N, 2) of centres and gives (K,).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from visualiser.arrangement.neighbours import Floats, Neighbours, scale_of, share_of
from visualiser.arrangement.openings import opening_between
from visualiser.arrangement.setting import Centres, Setting

FOCAL_SHARE = 0.95
"""Pieces of at least this share of the heaviest one's weight are the focal piece together."""
FLUSH = 0.12
"""Gaps by which frames may differ and still lie on one side of the outline."""


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """Raw measures of K layouts; lengths in mm, shares from 0 to 1.

    Parameters
    ----------
    gap_error
        Mean departure of the gaps between pieces that face each other from the one aimed at, in
        gaps.
    aligned
        Share of neighbours that share an edge or a centre line.
    filled
        Share of the group's outline that frames and their gaps fill.
    opening
        Area of the largest empty rectangle along the outline, in mean pieces.
    lean
        (K, 2) centre of visual mass from the outline's centre, in outline widths and heights.
    focal
        Distance of the heaviest piece from the group's centre, in half diagonals; of the middle
        of those that weigh about the same.
    size
        (K, 2) width and height of the group.
    centre
        (K, 2) centre of the group.
    colour
        Colour difference of neighbours over that of any two pieces; NaN when not judged.
    straight
        Share of the outline's sides along which frames lie flush.
    """

    gap_error: Floats
    aligned: Floats
    filled: Floats
    opening: Floats
    lean: Floats
    focal: Floats
    size: Floats
    centre: Floats
    colour: Floats
    straight: Floats


def measure(
    centres: Centres,
    sizes: Floats,
    masses: Floats,
    gap_mm: float,
    labs: Floats | None = None,
) -> Measured:
    """Measure layouts (K, N, 2) of pieces with sizes (N, 2) or (K, N, 2)."""
    count = centres.shape[1]
    # Layouts last from here on: numpy is slow where the last axis is short.
    at = [np.ascontiguousarray(centres[..., axis].T) for axis in (0, 1)]
    half = [_layouts_last(sizes[..., axis]) / 2 for axis in (0, 1)]
    low = [x - h for x, h in zip(at, half, strict=True)]
    high = [x + h for x, h in zip(at, half, strict=True)]
    first, last = [x.min(axis=0) for x in low], [x.max(axis=0) for x in high]
    size = [b - a for a, b in zip(first, last, strict=True)]
    middle = [(b + a) / 2 for a, b in zip(first, last, strict=True)]
    area = np.prod(sizes + gap_mm, axis=-1).sum(axis=-1)
    weights = _layouts_last(masses)
    whole = weights.sum(axis=0)
    lean = [((x * weights).sum(axis=0) / whole - m) / s
            for x, m, s in zip(at, middle, size, strict=True)]  # fmt: skip
    heavy = weights >= FOCAL_SHARE * weights.max(axis=0)
    off = np.hypot(*((x * heavy).sum(axis=0) / heavy.sum(axis=0) - m
                     for x, m in zip(at, middle, strict=True)))  # fmt: skip
    gap_error, aligned, colour = _neighbours(at, half, gap_mm, labs)
    return Measured(
        gap_error=gap_error,
        aligned=aligned,
        filled=area / ((size[0] + gap_mm) * (size[1] + gap_mm)),
        opening=opening_between(low, high, gap_mm) * count / area,
        lean=np.stack(lean, axis=1),
        focal=off / (np.hypot(*size) / 2),
        size=np.stack(size, axis=1),
        centre=np.stack(middle, axis=1),
        colour=colour,
        straight=straight_between(low, high, gap_mm),
    )


def straight_sides(low: Floats, high: Floats, gap_mm: float) -> Floats:
    """Share (K,) of the outline's four sides along which frames lie flush, the mean of the four.

    ``low`` and ``high`` are the pieces' lower left and upper right corners (K, N, 2).
    """
    sides = [[np.ascontiguousarray(x[..., axis].T) for axis in (0, 1)] for x in (low, high)]
    return straight_between(sides[0], sides[1], gap_mm)


def straight_between(low: Sequence[Floats], high: Sequence[Floats], gap_mm: float) -> Floats:
    """As `straight_sides`, from the pieces' sides (N, K) along x and y."""
    total = np.zeros(low[0].shape[1])
    for axis in (0, 1):
        along = 1 - axis
        first, last = low[along].min(axis=0), high[along].max(axis=0)
        length = high[along] - low[along] + gap_mm
        for edge, at in ((low[axis], low[axis].min(axis=0)), (high[axis], high[axis].max(axis=0))):
            flush = np.abs(edge - at) <= FLUSH * scale_of(gap_mm)
            total += (flush * length).sum(axis=0) / (last - first + gap_mm)
    return np.minimum(total / 4, 1.0)


def _layouts_last(values: Floats) -> Floats:
    """(N,) as (N, 1), or (K, N) as (N, K)."""
    return values[:, None] if values.ndim == 1 else np.ascontiguousarray(values.T)


def _neighbours(
    at: list[Floats], half: list[Floats], gap: float, labs: Floats | None
) -> tuple[Floats, Floats, Floats]:
    """Departure of gaps, share of aligned neighbours, and colour contrast between neighbours."""
    count, layouts = at[0].shape
    unjudged = np.full(layouts, np.nan)
    if count == 1:
        return np.zeros(layouts), np.ones(layouts), unjudged
    differ = None if labs is None else np.linalg.norm(labs[:, None] - labs[None], axis=2)
    found = Neighbours.of(at, half, gap, differ)
    gap_error = share_of(found.uneven, found.met, 1.0)
    aligned = share_of(found.shared, found.pairs, 0.0)
    if differ is None or (mean := float(differ.sum()) / (count * (count - 1))) == 0:
        return gap_error, aligned, unjudged
    return gap_error, aligned, share_of(found.contrast, found.pairs, 0.0) / mean


Kind = Literal[
    "",
    "around",
    "standing",
    "flank",
    "door",
    "slope",
    "staggered",
    "rail",
    "column",
    "salon",
    "rows",
    "stacked row",
]


@dataclass(frozen=True, slots=True)
class MeasuringContext:
    """What a group is measured with.

    Parameters
    ----------
    host
        Centre x and y, width and height of an object that the group surrounds: it counts as one
        of the pieces, weighing by its area.
    rise
        Slope of the line that the group follows: heights are taken from that line.
    kind
        What the group is placed by, where that is not the wall's own lines: it stands on a ledge
        or flanks an object (both ``host``), hangs over a door (``host``), under a slope, or its
        rows are set off.
    gap_mm
        The gap that it was laid out with; 0 for that of the rules.
    level_mm
        Height of the line that its middle keeps beside an object; 0 for the eye's.
    low
        Whether that object leaves the wall above it free at eye level.
    """

    host: tuple[float, float, float, float] | None = None
    rise: float = 0.0
    kind: Kind = ""
    gap_mm: float = 0.0
    level_mm: float = 0.0
    low: bool = False


PLAIN = MeasuringContext()


def measure_in(centres: Centres, setting: Setting, context: MeasuringContext = PLAIN) -> Measured:
    """Measure layouts (K, N, 2) of all the pieces of a setting."""
    sizes, masses, labs = setting.sizes, setting.masses, setting.labs
    host = context.host if context.kind in ("", "around", "flank") else None
    gap = context.gap_mm or setting.gap_mm
    if host is not None:
        centres, sizes, masses = with_host(centres, sizes, masses, host)
        labs = None
    if context.rise:
        middle = (centres[..., 0].min(axis=1) + centres[..., 0].max(axis=1)) / 2
        centres = centres.copy()
        centres[..., 1] -= context.rise * (centres[..., 0] - middle[:, None])
    measured = measure(centres, sizes, masses, gap, labs)
    return measured if host is None else about_host(measured, host)


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

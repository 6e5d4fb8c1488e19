"""Openings in a group's outline: corners and bays along its sides that no piece fills.

A stylist sees a group as one mass. A missing corner, or a bay between two pieces that reach to
the outline, breaks it; gaps between frames do not. So every piece is taken with half a gap around
it, and what is left over along the outline is looked at.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from visualiser.arrangement.neighbours import Floats

HAIR = 1e-6
CELLS = 32768
"""Numbers worked on at once: what a processor's nearest memory holds."""


def largest_opening(centres: Floats, sizes: Floats, gap_mm: float) -> Floats:
    """Area (K,) of the largest empty rectangle along the outline of layouts, mm².

    Parameters
    ----------
    centres
        (K, N, 2).
    sizes
        (N, 2), or (K, N, 2) where layouts have pieces of their own.
    gap_mm
        The gap at which frames hang as one mass: it is no opening.
    """
    half = np.broadcast_to(sizes / 2, centres.shape)
    sides = [np.ascontiguousarray((centres + sign * half).T) for sign in (-1, 1)]
    return opening_between(sides[0], sides[1], gap_mm)


def opening_between(
    low: Sequence[Floats] | Floats, high: Sequence[Floats] | Floats, gap_mm: float
) -> Floats:
    """As `largest_opening`, from the pieces' sides (N, K) along x and y.

    Seen from a side of the outline, an empty rectangle that touches it starts at the end of the
    outline or at the far side of a piece, ends at the near side of another or at the outline's
    other end, and is as deep as the piece in between that reaches nearest to the outline. Pieces
    are taken in the order in which they start, so that depths are running minima.
    """
    count, layouts = low[0].shape
    best = np.zeros(layouts)
    some = max(8, CELLS // (count * (count + 1)))
    for part in (slice(k, k + some) for k in range(0, layouts, some)):
        sides = [x[:, part] for x in (*low, *high)]
        best[part] = np.maximum(
            _opening_along(sides[0], sides[1], sides[2], sides[3], gap_mm),
            _opening_along(sides[1], sides[0], sides[3], sides[2], gap_mm),
        )
    return best


def _opening_along(start: Floats, near: Floats, stop: Floats, far: Floats, gap_mm: float) -> Floats:
    """Largest opening (K,) along the two sides of the outline on which ``start`` and ``stop`` lie.

    ``near`` and ``far`` are the pieces' sides across.
    """
    order = np.argsort(start, axis=0)
    start, near, stop, far = (
        np.take_along_axis(x, order, axis=0) for x in (start, near, stop, far)
    )
    begins = np.concatenate([start[:1] - gap_mm, stop])
    ends = np.concatenate([start[1:], stop.max(axis=0, keepdims=True) + gap_mm])
    # The half gaps around two pieces leave so much less between them.
    wide = ends - begins[:, None] - gap_mm
    behind = stop > begins[:, None] + HAIR
    lowest, highest = near.min(axis=0), far.max(axis=0)
    best = np.zeros(start.shape[1])
    for depth in (near - lowest, highest - far):
        deep = np.where(behind, depth, highest - lowest + gap_mm)
        np.minimum.accumulate(deep, axis=1, out=deep)
        deep *= wide
        best = np.maximum(best, deep.max(axis=(0, 1)))
    return np.asarray(best)

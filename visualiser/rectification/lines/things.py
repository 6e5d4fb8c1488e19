"""Which edges belong to one thing that hangs: the sides of a frame, of its mat, of what is in it.

A thing that hangs is stiff. Its level and upright edges roll with it, all by the same angle, and
so say once how it hangs, not each by itself. One is told by a corner: two of its edges meet there,
dark on the same hand of both as one goes round it. What lies within its outline is of it as well.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.lines.detect import RoomLine

Array = NDArray[np.float64]

SHORT_OF, BEYOND = 0.025, 0.03
"""An edge may end so far short of a corner, or beyond it, as shares of the photo's long side: the
detector stops before a corner; a shadow runs on."""
SQUARE = 0.3
"""Cosine between two edges that may form a corner as a camera shows it."""
OPPOSITE, NARROWEST = 0.98, 0.45
"""Cosine between two sides that face each other, and how far apart they are at least, as a share of
their length, and at most its inverse."""
WITHIN = 0.008
"""How far beyond the outline its edges may lie, as a share of the long side."""
LARGEST = 0.55
"""An outline wider or higher than this is a wall's or a door's."""
LONGEST_OPEN = 0.35
"""One of which only two or three sides are seen is a door's or a window's from here on."""
PARALLEL, BESIDE = 0.98, 0.08
"""Cosine between edges that may belong to one thing; and how far beside it another one may run."""
MOST_WITH_THINGS, MOST_OF_A_KIND_WITH_THINGS = 24, 15
"""Lines of a photo among which edges of hung things are taken, and of them so many that are steep,
or flat. (On walls of nothing but frames that hang up to 1.2° askew, drawn, more of their edges had
two of 24 photos refused.)"""
NONE = -1
"""The place of a line that is of no thing."""


def things_of(lines: Sequence[RoomLine], long_side_px: int) -> NDArray[np.intp]:
    """Tell which hung thing each line is an edge of.

    Parameters
    ----------
    lines
        Room lines.
    long_side_px
        Longer side of the photo.

    Returns
    -------
    (L,) number of its thing, counted from zero; `NONE` for all others.
    """
    things = np.full(len(lines), NONE, np.intp)
    found = [i for i, line in enumerate(lines) if line.drawn is None]
    if len(found) < 2:
        return things
    ends = np.array([lines[i].ends_px for i in found]) / long_side_px
    flat = np.abs(np.diff(ends[..., 0], axis=1)) > np.abs(np.diff(ends[..., 1], axis=1))
    right, left = _chained(ends)
    outlines = [
        np.array(group)
        for joined in (right, left)
        for group in _groups(joined | _facing(ends, right, left, joined is right))
        if _hangs(ends[group], flat[group, 0])
    ]
    outlines.sort(key=lambda group: -float(np.prod(np.ptp(_corners(ends[group]), axis=0))))
    boxes: list[Array] = []
    for group in outlines:
        box = _corners(ends[group])
        number = next((k for k, other in enumerate(boxes) if _lies_in(box, other)), len(boxes))
        if number == len(boxes):
            boxes.append(box)
        low, high = box
        inside = ((ends > low - WITHIN) & (ends < high + WITHIN)).all(axis=(1, 2))
        inside[group] = True
        members = np.array(found)[inside]
        things[members[things[members] == NONE]] = number
    # A thing all of whose edges were another's already is none.
    numbers = np.unique(things[things != NONE])
    things[things != NONE] = np.searchsorted(numbers, things[things != NONE])
    _join_near(things, lines, long_side_px)
    return things


def without_lesser_edges(lines: Sequence[RoomLine], long_side_px: int) -> list[RoomLine]:
    """Leave out edges of hung things beyond the longest lines of a photo.

    A building's edges stray each by itself, so that more of them tell more; those of a hung thing
    roll together, and say no more than its longest do.

    Parameters
    ----------
    lines
        Room lines, longest first.
    long_side_px
        Longer side of the photo.
    """
    kept: list[RoomLine] = []
    steep_or_flat = [0, 0]
    for line, thing in zip(lines, things_of(lines, long_side_px), strict=True):
        kind = int(abs(line.heading[0]) > abs(line.heading[1]))
        full = len(kept) >= MOST_WITH_THINGS or steep_or_flat[kind] >= MOST_OF_A_KIND_WITH_THINGS
        if thing != NONE and full:
            continue
        kept.append(line)
        steep_or_flat[kind] += 1
    return kept


def side_by_side(lines: Sequence[RoomLine]) -> tuple[Array, Array]:
    """How far apart lines run (L, L), px, as if parallel; and the cosines between them (L, L)."""
    ends = np.array([line.ends_px for line in lines]).reshape(-1, 2, 2)
    along = np.array([line.heading for line in lines]).reshape(-1, 2)
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    # Ends of line j in the frame of line i.
    t = np.einsum("jek,ik->ije", ends, along)
    v = np.einsum("jek,ik->ije", ends, across).mean(axis=2)
    reach = np.sort(t, axis=2)
    own = np.diagonal(reach, axis1=0, axis2=1).T
    beyond = np.maximum(reach[..., 0] - own[:, None, 1], own[:, None, 0] - reach[..., 1])
    apart = np.hypot(v - np.diag(v)[:, None], np.maximum(beyond, 0.0))
    return np.minimum(apart, apart.T), np.abs(along @ along.T)


def _join_near(things: NDArray[np.intp], lines: Sequence[RoomLine], long_side_px: int) -> None:
    """Count short lines that run close beside an edge of a thing among that thing's."""
    apart, cosine = side_by_side(lines)
    for i, line in enumerate(lines):
        if things[i] != NONE or line.drawn or line.length_px > LONGEST_OPEN * long_side_px:
            continue
        near = np.where((things != NONE) & (cosine[i] > PARALLEL), apart[i], np.inf)
        nearest = int(near.argmin())
        if near[nearest] < BESIDE * long_side_px:
            things[i] = things[nearest]


def _chained(ends: Array) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which lines (N, N) begin where another ends: at corners to the right hand, and to the left.

    Round one outline all corners are to the same hand; those of two things side by side are not.
    """
    start, end = ends[:, 0], ends[:, 1]
    length = np.hypot(*(end - start).T)
    along = (end - start) / np.maximum(length, 1e-9)[:, None]
    cross = along[:, None, 0] * along[None, :, 1] - along[:, None, 1] * along[None, :, 0]
    square = np.abs(along @ along.T) < SQUARE
    apart = start[None] - end[:, None]
    safe = np.where(square, cross, 1.0)
    # From the first one's end on to the corner, and from the corner on to the second's start.
    ahead = (apart[..., 0] * along[None, :, 1] - apart[..., 1] * along[None, :, 0]) / safe
    after = (apart[..., 0] * along[:, None, 1] - apart[..., 1] * along[:, None, 0]) / safe
    near = (ahead < SHORT_OF) & (ahead > -BEYOND) & (after < SHORT_OF) & (after > -BEYOND)
    return square & near & (cross > 0), square & near & (cross < 0)


def _facing(
    ends: Array, right: NDArray[np.bool_], left: NDArray[np.bool_], to_right: bool
) -> NDArray[np.bool_]:
    """Which lines (N, N) face each other as two sides of one thing whose others are not seen.

    So do the sides of two things beside each other, but the other way round: which way is told by
    those that have corners.
    """
    none = np.zeros_like(right)
    if (right.sum() <= left.sum()) if to_right else (left.sum() <= right.sum()):
        return none
    cornered = (right | left).any(axis=0) | (right | left).any(axis=1)
    start, end = ends[:, 0], ends[:, 1]
    length = np.hypot(*(end - start).T)
    along = (end - start) / np.maximum(length, 1e-9)[:, None]
    hand = np.stack([-along[:, 1], along[:, 0]], axis=1) * (1.0 if to_right else -1.0)
    apart = start[None] - end[:, None]
    aside = (apart * hand[:, None]).sum(axis=2)
    level = np.abs((apart * along[:, None]).sum(axis=2)) < BEYOND
    level &= np.abs(((end[None] - start[:, None]) * along[:, None]).sum(axis=2)) < BEYOND
    shape = aside / np.minimum(length[:, None], length)
    opposite = along @ along.T < -OPPOSITE
    facing = opposite & level & (shape > NARROWEST) & (shape < 1 / NARROWEST)
    facing[cornered] = facing[:, cornered] = False
    return np.asarray(facing)


def _lies_in(box: Array, other: Array) -> bool:
    """Whether most of a box (2, 2) lies in another."""
    shared = np.minimum(box[1], other[1]) - np.maximum(box[0], other[0])
    return bool(np.prod(np.maximum(shared, 0.0)) > 0.5 * np.prod(box[1] - box[0]))


def _groups(joined: NDArray[np.bool_]) -> list[list[int]]:
    """Lines that hang together by their corners, two or more."""
    left, groups = set(range(len(joined))), []
    joined = joined | joined.T
    while left:
        group, rim = set(), {left.pop()}
        while rim:
            group |= rim
            rim = {int(j) for i in rim for j in np.flatnonzero(joined[i])} - group
        left -= group
        if len(group) > 1:
            groups.append(sorted(group))
    return groups


def _corners(ends: Array) -> Array:
    """Least and greatest (2, 2) of x and y."""
    points = ends.reshape(-1, 2)
    return np.stack([points.min(axis=0), points.max(axis=0)])


def _hangs(ends: Array, flat: NDArray[np.bool_]) -> bool:
    """Whether an outline may be of something that hangs: closed, or too small for a door."""
    size = np.ptp(_corners(ends), axis=0)
    middles = ends.mean(axis=1)
    # Closed: two level edges, far apart.
    heights = middles[flat, 1]
    closed = bool(flat.sum() > 1 and np.ptp(heights) > 0.6 * size[1])
    return bool(size.max() < (LARGEST if closed else LONGEST_OPEN))

"""Which pieces are neighbours, how even their gaps are and what lines they share.

Layouts lie along the last axis here: numpy is slow where that axis is short.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEAST_FACING = 0.12
"""Share of the smaller side along which two pieces must face each other to be neighbours."""
FAR = 1e12
"""Stands for no neighbour, mm."""
SEEN = 4.0
"""Gaps up to this many times the one aimed at are seen as gaps: whoever faces each other so near
has no room for a third between them. All of them count, so that an opening beside a nearer
neighbour counts too."""
NEAR = 1.6
"""Gaps up to this many times the one aimed at join neighbours."""
CENTRED_CREDIT = 0.75
"""What a shared centre line counts for, where a shared edge counts 1."""
LINE_SHARE = 0.02
"""Edges that differ by less than this share of the gap count as one line: 1 mm in 57."""
LEAST_SCALE_MM = 1.0
"""Length that departures are measured by where frames are to hang edge to edge, at a gap of 0."""
HAIR = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Pairs of pieces seen along one axis."""

    clear: Floats
    """Clear distance; negative where the shadows on this axis overlap."""
    after: NDArray[np.bool_]
    """Whether the second piece comes after the first."""
    shadow: NDArray[np.bool_]
    """Whether they face each other enough, seen across this axis."""
    shared: Floats
    """Credit for an edge or a centre line that they share."""

    def to_facing(self, other: Line) -> Floats:
        """Clear distance of pairs that face each other along this axis; `FAR` for the rest."""
        return np.where(other.shadow & (self.clear > -HAIR), self.clear, FAR)


def scale_of(gap: float) -> float:
    """Length that gaps and lines are measured by: the gap itself, unless there is to be none."""
    return max(gap, LEAST_SCALE_MM)


def compare(offset: Floats, one: Floats, two: Floats, gap: float) -> Line:
    """Compare pairs along one axis, by the offset of their centres and their half sizes."""
    apart = np.abs(offset)
    clear = apart - (one + two)
    line = LINE_SHARE * scale_of(gap)
    flush = np.abs(apart - np.abs(one - two)) < line
    return Line(
        clear=clear,
        after=offset > 0,
        shadow=clear < -2 * LEAST_FACING * np.minimum(one, two),
        shared=np.where(flush, 1.0, CENTRED_CREDIT * (apart < line)),
    )


def departure(clear: Floats, gap: float) -> Floats:
    """Departure of gaps from the one aimed at, in gaps, at most 1."""
    return np.minimum(np.abs(clear - gap) / scale_of(gap), 1.0)


def far_off(nearest: Floats, gap: float) -> NDArray[np.int64]:
    """1 for each side that faces something, but only farther off than gaps are seen."""
    return ((nearest >= SEEN * scale_of(gap)) & (nearest < FAR)).astype(np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Neighbours:
    """Neighbours in K layouts of N pieces, as sums that one more piece can be added to.

    Parameters
    ----------
    nearest
        For each axis, clear distance (2, N, K) of the nearest piece before each and after each.
    uneven, met
        (K,) summed departure of the gaps that are seen, and how many there are, each counted
        from either side; a side that faces something only farther off counts as one, uneven.
    shared, pairs
        (K,) summed credit for lines that near neighbours share, and how many such there are,
        each seen from either side.
    contrast
        (K,) summed colour difference of near neighbours; 0 when not judged.
    """

    nearest: tuple[Floats, Floats]
    uneven: Floats
    met: Floats
    shared: Floats
    pairs: Floats
    contrast: Floats

    @classmethod
    def of(
        cls, at: Sequence[Floats], half: Sequence[Floats], gap: float, differ: Floats | None = None
    ) -> Neighbours:
        """Look at layouts, given as centres (N, K) and half sizes (N, 1) or (N, K) by axis."""
        layouts = at[0].shape[1]
        lines = [compare(x[None] - x[:, None], h[None], h[:, None], gap)
                 for x, h in zip(at, half, strict=True)]  # fmt: skip
        uneven, met, shared, pairs, contrast = (np.zeros(layouts) for _ in range(5))
        nearest = []
        for this, other in (lines, lines[::-1]):
            far = this.to_facing(other)
            beyond = np.where(this.after, far, FAR)
            nearest.append(np.stack([beyond.min(axis=0), beyond.min(axis=1)]))
            seen = far < SEEN * scale_of(gap)
            lost = far_off(nearest[-1], gap).sum(axis=(0, 1))
            uneven += (seen * departure(far, gap)).sum(axis=(0, 1)) + lost
            met += seen.sum(axis=(0, 1)) + lost
            near = far < NEAR * scale_of(gap)
            shared += (near * other.shared).sum(axis=(0, 1))
            pairs += near.sum(axis=(0, 1))
            if differ is not None:
                contrast += (near * differ[..., None]).sum(axis=(0, 1))
        return cls((nearest[0], nearest[1]), uneven, met, shared, pairs, contrast)

    def with_one_more(
        self, layout: NDArray[np.intp], lines: Sequence[Line], gap: float
    ) -> tuple[Floats, Floats]:
        """Gap error and share of aligned neighbours (C,) once one more piece hangs.

        Parameters
        ----------
        layout
            (C,) the layout that each new piece joins.
        lines
            The hung pieces and the new one, compared (N, C) along each axis.
        gap
            The gap aimed at.
        """
        uneven, met, shared, pairs = self._sums_with(layout, lines, gap)[0]
        return share_of(uneven, met, 1.0), share_of(shared, pairs, 0.0)

    def grown(self, lines: Sequence[Line], gap: float) -> Neighbours:
        """Look at the layouts once each has one more piece, after those that hang.

        ``lines`` compare the hung pieces and the new one (N, K) along each axis. Colours are not
        judged.
        """
        sums, faced = self._sums_with(np.arange(len(self.met)), lines, gap)
        nearest = []
        for old, this, (far, now) in zip(self.nearest, lines, faced, strict=True):
            own = [np.where(way, far, FAR).min(axis=0, initial=FAR)
                   for way in (this.after, ~this.after)]  # fmt: skip
            hung = np.where(np.stack([~this.after, this.after]), now, old)
            nearest.append(np.concatenate([hung, np.stack(own)[:, None]], axis=1))
        return Neighbours((nearest[0], nearest[1]), *sums, contrast=self.contrast)

    def _sums_with(
        self, layout: NDArray[np.intp], lines: Sequence[Line], gap: float
    ) -> tuple[tuple[Floats, Floats, Floats, Floats], list[tuple[Floats, Floats]]]:
        """Give sums once one more piece hangs; by axis, what it faces and what hung pieces do."""
        uneven, met = self.uneven[layout], self.met[layout]
        shared, pairs = self.shared[layout], self.pairs[layout]
        pieces = np.arange(len(lines[0].clear))[:, None]
        faced = []
        for nearest, this, other in zip(self.nearest, lines, lines[::-1], strict=True):
            far = this.to_facing(other)
            # Only the side of a hung piece on which the new one comes can change.
            before = nearest[this.after.astype(np.intp), pieces, layout]
            now = np.minimum(before, far)
            faced.append((far, now))
            lost = far_off(now, gap).sum(axis=0) - far_off(before, gap).sum(axis=0)
            for way in (this.after, ~this.after):
                lost += far_off(np.where(way, far, FAR).min(axis=0, initial=FAR), gap)
            seen = far < SEEN * scale_of(gap)
            uneven += 2 * (seen * departure(far, gap)).sum(axis=0) + lost
            met += 2 * seen.sum(axis=0) + lost
            near = far < NEAR * scale_of(gap)
            shared += 2 * (near * other.shared).sum(axis=0)
            pairs += 2 * near.sum(axis=0)
        return (uneven, met, shared, pairs), faced


def share_of(part: Floats, whole: Floats, none: float) -> Floats:
    """Part over whole, or what stands for it where there is nothing."""
    return np.where(whole == 0, none, part / np.maximum(whole, 1))

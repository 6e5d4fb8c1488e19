"""Openings along the outline of a group.

People see a group as one mass. A missing corner, or a bay between two pieces that reach to the
outline, breaks it; gaps between frames do not. So openings are measured with half a gap around
every piece, along the outline alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.setting import Centres

HAIR = 1e-6
CELLS = 8192
"""Numbers worked on at once: what a processor's nearest memory holds."""


def largest_opening(centres: Centres, sizes: Floats, gap_mm: float) -> Floats:
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
    some = max(8, CELLS // (count + 1))
    for part in (slice(k, k + some) for k in range(0, layouts, some)):
        for axis in (0, 1):
            seen = _Seen.along(axis, [x[:, part] for x in low], [x[:, part] for x in high], gap_mm)
            best[part] = np.maximum(best[part], _widest(seen, gap_mm))
    return best


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """Pieces (N, K) along one axis, in the order in which they start.

    Parameters
    ----------
    begins, ends
        (N + 1, K) and (N, K) where openings may begin, and where the one that follows each piece
        in the order may end.
    stop
        Where pieces end along the axis.
    inward
        How far each is from either side of the outline, across.
    edges
        (K,) place across of either side, inwards positive.
    through
        (K,) depth of an opening that no piece bounds.
    """

    begins: Floats
    ends: Floats
    stop: Floats
    inward: tuple[Floats, Floats]
    edges: tuple[Floats, Floats]
    through: Floats

    @classmethod
    def along(
        cls, axis: int, low: Sequence[Floats], high: Sequence[Floats], gap_mm: float
    ) -> _Seen:
        """Look at pieces, given by their sides (N, K) along x and y."""
        order = np.argsort(low[axis], axis=0)
        start, near, stop, far = (
            np.take_along_axis(x, order, axis=0)
            for x in (low[axis], low[1 - axis], high[axis], high[1 - axis])
        )
        lowest, highest = near.min(axis=0), far.max(axis=0)
        return cls(
            begins=np.concatenate([start[:1] - gap_mm, stop]),
            ends=np.concatenate([start[1:], stop.max(axis=0, keepdims=True) + gap_mm]),
            stop=stop,
            inward=(near - lowest, highest - far),
            edges=(lowest, -highest),
            through=highest - lowest + gap_mm,
        )


def _widest(seen: _Seen, gap_mm: float) -> Floats:
    """Largest opening (K,) along both sides."""
    depths = [np.repeat(seen.through[None], len(seen.begins), axis=0) for _ in seen.inward]
    best = np.zeros(seen.begins.shape[1])
    for k, end in enumerate(seen.ends):
        behind = seen.stop[k] > seen.begins + HAIR
        for depth, inward in zip(depths, seen.inward, strict=True):
            np.minimum(depth, inward[k], out=depth, where=behind)
        # The half gaps around two pieces leave so much less between them; what begins at a piece
        # that starts later than this one ends nowhere yet.
        area = end - seen.begins[: k + 2] - gap_mm
        area *= np.maximum(depths[0][: k + 2], depths[1][: k + 2])
        np.maximum(best, area.max(axis=0), out=best)
    return best


@dataclass(frozen=True, slots=True, eq=False)
class SideOpening:
    """The largest opening of each of K groups along one side of its outline.

    Parameters
    ----------
    axis
        Which way the side runs: 0 level, 1 plumb.
    sign
        1 for the lower or left side; -1 for the upper or right one, where places across are taken
        negative, so that inwards is positive.
    begin, end
        (K,) where the opening lies along it.
    edge, depth
        (K,) the side's place across, and how deep the opening is.
    area
        (K,) mm², less the half gaps at its ends.
    """

    axis: int
    sign: int
    begin: Floats
    end: Floats
    edge: Floats
    depth: Floats
    area: Floats

    def stays(self, group: NDArray[np.intp], at: Floats, own: Floats) -> Floats:
        """Area (C,) that surely stays open once one more piece hangs; 0 where none does.

        Parameters
        ----------
        group
            (C,) the group that each piece joins.
        at, own
            (2, C) the pieces' centres and half sizes.
        """
        along, across = self.axis, 1 - self.axis
        near = self.sign * at[across] - own[across]
        first, last = at[along] - own[along], at[along] + own[along]
        aside = (last <= self.begin[group]) | (first >= self.end[group])
        behind = near >= (self.edge + self.depth)[group]
        # A piece beyond the side moves the side itself.
        return np.where((aside | behind) & (near >= self.edge[group]), self.area[group], 0.0)


def openings_by_side(
    low: Sequence[Floats], high: Sequence[Floats], gap_mm: float
) -> Iterator[SideOpening]:
    """Give the largest opening along each side of the outline, from pieces' sides (N, K)."""
    for axis in (0, 1):
        seen = _Seen.along(axis, low, high, gap_mm)
        wide = seen.ends - seen.begins[:, None] - gap_mm
        behind = seen.stop > seen.begins[:, None] + HAIR
        pieces, groups = seen.stop.shape
        group = np.arange(groups)
        for sign, inward, edge in zip((1, -1), seen.inward, seen.edges, strict=True):
            deep = np.minimum.accumulate(np.where(behind, inward, seen.through), axis=1)
            area = deep * wide
            begin, end = divmod(area.reshape(-1, groups).argmax(axis=0), pieces)
            yield SideOpening(
                axis, sign, seen.begins[begin, group], seen.ends[end, group], edge,
                deep[begin, end, group], area[begin, end, group],
            )  # fmt: skip

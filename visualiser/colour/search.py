"""The nearest palettes among very many, exactly, without measuring most of them.

The search distance is the earth mover's distance with straight DIN99o distance as the ground. It
follows the one on CIEDE2000 closely but is a true metric, so two bounds hold for every pair: the
distance of the mean colours, and what each side would pay if it could go to its nearest swatch
without regard to amounts. Palettes whose bounds already lie beyond the best found so far are
never measured. Rerank the few that are found by CIEDE2000 where that matters.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.colour.colorimetry import lab_to_din99
from visualiser.colour.distance import stack_palettes
from visualiser.colour.palette import Palette
from visualiser.colour.transport import transport

_SLACK = 1e-3
"""Bounds are computed in single precision; this much, DIN99o, is left for their rounding."""
_FIRST = 64
_BATCH = 48


@dataclass(frozen=True, slots=True, eq=False)
class PaletteIndex:
    """Palettes as arrays, ready to be searched.

    Parameters
    ----------
    points
        (N, K, 3) swatch colours in DIN99o; unused places may hold anything finite.
    shares
        (N, K) shares, 0 where unused; each row sums to 1.
    """

    points: NDArray[np.float32]
    shares: NDArray[np.float32]
    means: NDArray[np.float32]

    @classmethod
    def of(cls, lab: NDArray[np.float64], shares: NDArray[np.float64]) -> PaletteIndex:
        """Index of stacked palettes: CIELAB (N, K, 3) and shares (N, K)."""
        points = lab_to_din99(lab)
        # An unused place repeats the palette's first colour: then it never misleads a minimum.
        points = np.where(shares[:, :, None] > 0, points, points[:, :1])
        means = np.einsum("nk,nkc->nc", shares, points)
        return cls(
            np.ascontiguousarray(points, np.float32),
            np.ascontiguousarray(shares, np.float32),
            np.ascontiguousarray(means, np.float32),
        )

    def __len__(self) -> int:
        return len(self.points)


@dataclass(frozen=True, slots=True, eq=False)
class _Target:
    points: NDArray[np.float64]
    shares: NDArray[np.float64]
    weight: float


def search_distance(
    index: PaletteIndex,
    rows: NDArray[np.intp],
    targets: Sequence[Palette],
    weights: Sequence[float] | None = None,
) -> NDArray[np.float64]:
    """Weighted mean of the distances from some rows of an index to each target."""
    return _measured(index, rows, _targets(targets, weights))


def nearest_palettes(
    index: PaletteIndex,
    targets: Sequence[Palette],
    count: int = 20,
    weights: Sequence[float] | None = None,
    among: NDArray[np.intp] | None = None,
) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Rows and distances of the palettes nearest to some targets, nearest first.

    Parameters
    ----------
    index
        What to search.
    targets
        Palettes to be close to: the room, a piece, several pieces.
    count
        How many to find.
    weights
        Of the targets; equal by default. The distance is the weighted mean.
    among
        Rows to look at; all by default.

    Returns
    -------
    Rows (count,) and their distances; fewer where the index holds fewer. Ties by row.

    References
    ----------
    Y. Rubner, C. Tomasi, L. J. Guibas (2000), section 4.3: the distance of means as a bound.
    M. J. Kusner, Y. Sun, N. I. Kolkin, K. Q. Weinberger, "From word embeddings to document
    distances", ICML 2015, section 4: the relaxed distance.
    """
    goals = _targets(targets, weights)
    rows = np.arange(len(index)) if among is None else np.asarray(among, np.intp)
    if not rows.size or count < 1:
        return np.empty(0, np.intp), np.empty(0)
    bound = _mean_bound(index, rows, goals)

    found_rows = np.empty(0, np.intp)
    found = np.empty(0)

    def keep(new: NDArray[np.intp]) -> None:
        nonlocal found_rows, found
        found_rows = np.concatenate([found_rows, new])
        found = np.concatenate([found, _measured(index, new, goals)])
        order = np.lexsort((found_rows, found))[:count]
        found_rows, found = found_rows[order], found[order]

    # A first guess at how far the nearest are: the best by the finer bound among the best by
    # the rougher one.
    some = np.argpartition(bound, min(16 * _FIRST, rows.size - 1))[: 16 * _FIRST]
    relaxed = _relaxed_bound(index, rows[some], goals)
    first = some[np.argsort(relaxed, kind="stable")[: max(_FIRST // 2, count)]]
    keep(rows[first])
    open_ = np.ones(rows.size, bool)
    open_[first] = False

    def limit() -> float:
        return float(found[-1]) + _SLACK if found.size >= count else np.inf

    near = np.flatnonzero(open_ & (bound <= limit()))
    relaxed = _relaxed_bound(index, rows[near], goals)
    near, relaxed = near[relaxed <= limit()], relaxed[relaxed <= limit()]
    order = np.argsort(relaxed, kind="stable")
    near, relaxed = near[order], relaxed[order]
    while near.size and relaxed[0] <= limit():
        keep(rows[near[:_BATCH]])
        near, relaxed = near[_BATCH:], relaxed[_BATCH:]
    return found_rows, found


def _targets(targets: Sequence[Palette], weights: Sequence[float] | None) -> list[_Target]:
    if not targets:
        raise ValueError("a search needs at least one palette to be close to")
    amounts = np.ones(len(targets)) if weights is None else np.asarray(weights, float)
    if len(amounts) != len(targets) or (amounts < 0).any() or amounts.sum() <= 0:
        raise ValueError("expected one weight of 0 or more for each target, not all 0")
    amounts = amounts / amounts.sum()
    return [
        _Target(lab_to_din99(p.lab), p.shares, float(w))
        for p, w in zip(targets, amounts, strict=True)
        if w > 0
    ]


def _mean_bound(
    index: PaletteIndex, rows: NDArray[np.intp], targets: list[_Target]
) -> NDArray[np.float32]:
    means = index.means if rows.size == len(index) else index.means[rows]
    total = np.zeros(rows.size, np.float32)
    for target in targets:
        step = means - (target.shares @ target.points).astype(np.float32)
        total += np.float32(target.weight) * np.sqrt((step * step).sum(1))
    return total


def _ground(points: NDArray[np.float32], target: _Target) -> NDArray[np.float32]:
    """Single-precision distances (n, B, K) from every target swatch to every palette's."""
    out = np.empty((len(target.points), *points.shape[:2]), np.float32)
    for row, goal in zip(out, target.points.astype(np.float32), strict=True):
        step = points - goal
        np.einsum("bkc,bkc->bk", step, step, out=row)
    return np.sqrt(out, out=out)


def _relaxed_bound(
    index: PaletteIndex, rows: NDArray[np.intp], targets: list[_Target]
) -> NDArray[np.float32]:
    """Larger of what either side pays to its nearest, raised by feasible prices (LP duality)."""
    points, shares = index.points[rows], index.shares[rows]
    total = np.zeros(rows.size, np.float32)
    for target in targets:
        ground = _ground(points, target)  # (n, B, K)
        goal_shares = target.shares.astype(np.float32)
        # Prices at the palette's swatches first, what is left over at the target's; and reversed.
        at_palette = ground.min(0)
        rest = ground - at_palette
        at_target = rest.min(2)
        one = (shares * at_palette).sum(1) + goal_shares @ at_target
        at_target = ground.min(2)
        rest = ground - at_target[:, :, None]
        two = goal_shares @ at_target + (shares * rest.min(0)).sum(1)
        total += np.float32(target.weight) * np.maximum(one, two)
    return total


def _measured(
    index: PaletteIndex, rows: NDArray[np.intp], targets: list[_Target]
) -> NDArray[np.float64]:
    """Exact search distances of some rows."""
    points = index.points[rows].astype(np.float64)
    shares = index.shares[rows].astype(np.float64)
    shares /= shares.sum(1, keepdims=True)
    total = np.zeros(len(rows))
    for target in targets:
        ground = np.linalg.norm(points[:, :, None] - target.points, axis=3)
        demand = np.broadcast_to(
            target.shares / target.shares.sum(), (len(rows), len(target.shares))
        )
        total += target.weight * (transport(shares, demand, ground) * ground).sum((1, 2))
    return total


def index_palettes(palettes: Sequence[Palette]) -> PaletteIndex:
    """Index of palettes."""
    return PaletteIndex.of(*stack_palettes(palettes))

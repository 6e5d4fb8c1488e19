"""Choose the few colours of a picture that stand best for all of them.

The colours chosen are colours present, so every exchange of one for another can be tried at once,
from a table of all their distances. What no exchange betters is close to the best there is. That
matters for more than quality: settling from a start stops in the nearest of several valleys, and
which one that is hangs on small things, so that the same picture at another size would get other
swatches.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from visualiser.colour.clustering import Points, Weights, distances_to, group_sums

_MOST_CANDIDATES = 256
"""Only this many colours, those of largest weight, may be chosen: it bounds the time."""
_MOST_SWAPS = 60
_WORTHWHILE = 1e-4
"""An exchange must lower the mean distance by this much, in units of the space."""

_Chosen = NDArray[np.intp]
_Table = NDArray[np.float32]


def representatives(points: Points, weights: Weights, count: int) -> Iterator[tuple[Points, float]]:
    """Chosen colours (K, 3) and the weighted mean distance to the nearest, for K falling to 1.

    Begins with ``count`` colours, or as many as there are, and leaves out one at a time.

    References
    ----------
    L. Kaufman, P. J. Rousseeuw, *Finding Groups in Data*, Wiley 1990, chapter 2: the best of all
    exchanges until none helps. E. Schubert, P. J. Rousseeuw, "Fast and eager k-medoids
    clustering", Information Systems 101:101804, 2021: all of them from nearest and second nearest.
    """
    candidates = np.sort(np.argsort(-weights, kind="stable")[:_MOST_CANDIDATES])
    table = distances_to(points[candidates], points).astype(np.float32)
    mass = weights.astype(np.float32)
    chosen = _exchanged(table, mass, _one_by_one(table, mass, min(count, len(candidates))))
    while True:
        yield points[candidates[chosen]], float(mass @ table[chosen].min(0))
        if len(chosen) == 1:
            return
        owner, nearest, second = _two_nearest(table[chosen])
        missed = group_sums(owner, mass * (second - nearest), len(chosen))
        chosen = _exchanged(table, mass, np.delete(chosen, int(missed.argmin())))


def _one_by_one(table: _Table, weights: NDArray[np.float32], count: int) -> _Chosen:
    """Add the candidate that helps most until there are enough."""
    chosen: list[int] = []
    distance = np.full(table.shape[1], table.max() + 1, np.float32)
    for _ in range(count):
        best = int((np.minimum(table, distance) @ weights).argmin())
        chosen.append(best)
        distance = np.minimum(distance, table[best])
    return np.array(chosen, np.intp)


def _exchanged(table: _Table, weights: NDArray[np.float32], chosen: _Chosen) -> _Chosen:
    """Exchange a chosen colour for another as long as it helps, the most helpful first."""
    points = np.arange(table.shape[1])
    for _ in range(_MOST_SWAPS):
        if len(chosen) == 1:
            return np.array([(table @ weights).argmin()], np.intp)
        owner, nearest, second = _two_nearest(table[chosen])
        with_it = np.minimum(table, nearest)
        owned = np.zeros((table.shape[1], len(chosen)), np.float32)
        owned[points, owner] = weights
        # Adding a colour, then what its owner's points lose when the owner goes.
        change = (with_it @ weights - nearest @ weights)[:, None]
        change = change + (np.minimum(table, second) - with_it) @ owned
        new, old = divmod(int(change.argmin()), len(chosen))
        if change[new, old] >= -_WORTHWHILE:
            break
        chosen = chosen.copy()
        chosen[old] = new
    return chosen


def _two_nearest(rows: _Table) -> tuple[_Chosen, NDArray[np.float32], NDArray[np.float32]]:
    """Nearest row (N,) for each column of (K, N), its distance, and that of the second nearest."""
    columns = np.arange(rows.shape[1])
    owner = rows.argmin(0)
    nearest = rows[owner, columns]
    others = rows.copy()
    others[owner, columns] = np.inf
    return owner, nearest, others.min(0)

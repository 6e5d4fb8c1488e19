"""Which of the matches of two photos tie them: spread over what they share, and not too many."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.tie_points import TieKind, TiePoints
from visualiser.rectification.joined.features import Matches

MOST_TIES = 260
"""Of each kind and pair, spread over the overlap; more tell no more."""


def thinned(
    first: int,
    second: int,
    kind: TieKind,
    matches: Matches,
    picked: NDArray[np.intp],
    sharper: float,
    stand_off_sigma_mm: float = 0.0,
    plane_mm: float = 0.0,
    patch: NDArray[np.intp] | None = None,
) -> list[TiePoints]:
    """Keep the best placed matches of each cell of the overlap, at most `MOST_TIES` in all."""
    if not len(picked):
        return []
    at = matches.first_px[picked]
    span = np.maximum(np.ptp(at, axis=0), 1.0)
    cells = np.minimum(((at - at.min(axis=0)) / span * 16).astype(int), 15) @ [16, 1]
    order = np.lexsort((matches.sigma_px[picked], cells))
    rank = np.empty(len(picked), int)
    starts = np.r_[0, np.flatnonzero(np.diff(cells[order])) + 1]
    counts = np.diff(np.r_[starts, len(order)])
    rank[order] = np.arange(len(order)) - np.repeat(starts, counts)
    kept = picked[np.lexsort((matches.sigma_px[picked], rank))[:MOST_TIES]]
    return [
        TiePoints(
            first,
            second,
            kind,
            matches.first_px[kept],
            matches.second_px[kept],
            matches.sigma_px[kept] * sharper,
            stand_off_sigma_mm,
            plane_mm,
            None if patch is None else patch[kept],
        )
    ]

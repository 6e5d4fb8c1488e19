"""Hang what was laid: the layout as it lay, or with its gaps evened, where it rests on a wall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.arrangement.contexts import evaluate
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.setting import describe_hung
from visualiser.geometry import Rect
from visualiser.inventory.piece import Piece
from visualiser.laid_out.layout import Layout
from visualiser.survey.survey import Survey

SEEN_AS_GAP = 2.5
"""Pieces that face each other across up to so many times the gap aimed at are neighbours."""
ALIKE_MM = 16.0
"""Edges or centres of neighbours that differ by less were meant to be on one line."""
STAY = 0.03
"""Weight of staying where a piece was laid against an even gap's."""
AS_LAID = "as laid"
"""The way of hanging that a layout read off a photo has."""


def hang_as_laid(
    layout: Layout,
    survey: Survey,
    guidelines: Guidelines,
    *,
    even_gaps: bool = False,
    pieces: Sequence[Piece] | None = None,
) -> Arrangement:
    """Hang a layout where the group rests best on a wall, every piece level.

    Parameters
    ----------
    layout
        As `read_layout` gives it.
    survey, guidelines
        The wall and the rules.
    even_gaps
        Whether gaps become those of the guidelines and nearly shared lines are shared; else each
        piece keeps its place in the group.
    pieces
        The pieces as confirmed, under the layout's ids; those that are missing are left out.

    Raises
    ------
    ArrangementError
        If the wall has no place for the group.
    """
    hung = tuple(pieces) if pieces is not None else tuple(p.as_piece() for p in layout.pieces)
    known = {piece.id for piece in hung}
    laid = [piece for piece in layout.pieces if piece.id in known]
    placements = tuple(Placement(p.id, p.x_mm, p.y_mm) for p in laid)
    group = Arrangement(hung, placements, AS_LAID, name="as laid")
    if even_gaps and len(laid) > 1:
        rects = group.rects()
        centres = evened(list(rects.values()), guidelines.gap_mm)
        placements = tuple(
            Placement(piece_id, float(x), float(y))
            for piece_id, (x, y) in zip(rects, centres, strict=True)
        )
        group = replace(group, placements=placements, name="as laid, gaps evened")
    setting = describe_hung([p for p in hung if p.id in known], survey, guidelines)
    dx, dy = setting.settled(
        list(group.rects().values()),
        "The layout",
        "Even its gaps, leave a piece out, or keep less of the wall clear.",
    )
    moved = tuple(Placement(p.piece_id, p.x_mm + dx, p.y_mm + dy) for p in group.placements)
    return evaluate(replace(group, placements=moved), survey, guidelines)


def evened(rects: Sequence[Rect], gap_mm: float) -> NDArray[np.float64]:
    """Move rectangles so that neighbours keep one gap and share lines they nearly shared.

    Least squares on each axis: every gap between neighbours, every line that two of them nearly
    share, and, far lighter, every place as it was. Gaps that cannot all be even share what is left.

    Returns
    -------
    Centres (N, 2).
    """
    low = np.array([[r.left_mm, r.bottom_mm] for r in rects])
    high = np.array([[r.right_mm, r.top_mm] for r in rects])
    middle = (low + high) / 2
    count = len(rects)
    shift = np.zeros((count, 2))
    beside = [_neighbours(low, high, axis, SEEN_AS_GAP * gap_mm) for axis in (0, 1)]
    for axis in (0, 1):
        rows, wanted = [STAY * np.eye(count)], [np.zeros(count)]
        for i, j in beside[axis]:
            rows.append(_difference(count, i, j))
            wanted.append(np.array([gap_mm - (low[j, axis] - high[i, axis])]))
        for i, j in beside[1 - axis]:
            apart = np.array([line[j, axis] - line[i, axis] for line in (middle, low, high)])
            nearest = apart[np.abs(apart).argmin()]
            if abs(nearest) < ALIKE_MM:
                rows.append(_difference(count, i, j))
                wanted.append(np.array([-nearest]))
        shift[:, axis] = np.linalg.lstsq(np.concatenate(rows), np.concatenate(wanted), rcond=None)[
            0
        ]
    return np.asarray(middle + shift)


def _difference(count: int, first: int, second: int) -> NDArray[np.float64]:
    row = np.zeros((1, count))
    row[0, first], row[0, second] = -1.0, 1.0
    return row


def _neighbours(
    low: NDArray[np.float64], high: NDArray[np.float64], axis: int, reach_mm: float
) -> list[tuple[int, int]]:
    """Pairs that face each other along an axis, the first before the second, none between them."""
    pairs = []
    other = 1 - axis
    for i in range(len(low)):
        for j in range(len(low)):
            facing = min(high[i, other], high[j, other]) - max(low[i, other], low[j, other])
            gap = low[j, axis] - high[i, axis]
            smaller = min(high[i, other] - low[i, other], high[j, other] - low[j, other])
            if i != j and facing > 0.12 * smaller and -0.1 * reach_mm < gap < reach_mm:
                pairs.append((i, j))
    return pairs

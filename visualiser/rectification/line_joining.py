"""Pieces of one long edge that something hides in between, or that a lens bends, made one again.

A ceiling's edge that bends by some pixels over the picture comes out of the detector in pieces, and
so does a skirting behind a plant. Each piece alone might be a picture's or a shelf's; together they
are as long as only a building's edges are, and tell their direction that much better.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.reference import EdgeSamples
from visualiser.rectification.room_lines import MIN_SUPPORT, RoomLine

Array = NDArray[np.float64]

SAME_WAY = 0.97
"""Cosine between two pieces, dark on the same hand of both; lenses bend a long edge by some
degrees."""
MISFIT, LEAST_MISFIT_PX = 1.6e-4, 0.4
"""How far, root mean square, both may stray from one parabola: a share of the picture's long side
(what a lens's second term leaves of it over the whole picture), and never less than these pixels.
Two edges side by side, as a moulding has, stray by half their distance at the ends."""
MOST_OVERLAP = 0.1
"""Pieces that run side by side for more than this share of the shorter are two edges."""
MOST_SAG = 0.04
"""Sag over the chord: no corrected lens bends more."""


def join_pieces(lines: Sequence[RoomLine], long_side_px: int) -> list[RoomLine]:
    """Join lines that lie on one gently bent edge; each keeps the name of its longest piece.

    Parameters
    ----------
    lines
        Lines as found.
    long_side_px
        Longer side of the photo.

    Returns
    -------
    Lines, longest first; those that a person drew stay as they are.
    """
    drawn = [line for line in lines if line.drawn is not None]
    rest = sorted((line for line in lines if line.drawn is None), key=lambda line: -line.length_px)
    limit_px = max(MISFIT * long_side_px, LEAST_MISFIT_PX)
    joined = []
    while rest:
        whole = [rest.pop(0)]
        grown = True
        while grown:
            # The nearest first: a far piece fits by chance more easily.
            rest.sort(key=lambda line: _gap_px(whole, line))
            grown = False
            for line in rest:
                if _one_edge([*whole, line], limit_px):
                    whole.append(line)
                    rest.remove(line)
                    grown = True
                    break
        joined.append(_merged(whole))
        rest.sort(key=lambda line: -line.length_px)
    return drawn + sorted(joined, key=lambda line: -line.length_px)


def _gap_px(whole: Sequence[RoomLine], line: RoomLine) -> float:
    """Shortest way between the ends of an edge's pieces and those of a line."""
    ends = np.concatenate([piece.ends_px for piece in whole])
    return float(np.hypot(*(ends[:, None] - line.ends_px[None]).T).min())


def _one_edge(pieces: Sequence[RoomLine], limit_px: float) -> bool:
    """Whether the last of some pieces lies on one parabola with the others, and beside none."""
    newest = pieces[-1]
    heading = pieces[0].heading
    if newest.heading @ heading < SAME_WAY:
        return False
    points = np.concatenate([piece.samples.points_px for piece in pieces])
    middle = points.mean(axis=0)
    along = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    along = along * np.sign(along @ heading)
    t = (points - middle) @ along
    v = (points - middle) @ np.array([-along[1], along[0]])
    reaches = [np.sort((piece.ends_px - middle) @ along) for piece in pieces]
    for low, high in reaches[:-1]:
        shared = min(high, reaches[-1][1]) - max(low, reaches[-1][0])
        if shared > MOST_OVERLAP * min(high - low, reaches[-1][1] - reaches[-1][0]):
            return False
    span = max(r[1] for r in reaches) - min(r[0] for r in reaches)
    if sum(r[1] - r[0] for r in reaches) < MIN_SUPPORT * span:
        return False
    curve = np.polyfit(t / span, v, 2)
    if abs(curve[0]) / 4 > MOST_SAG * span:
        return False
    off = (v - np.polyval(curve, t / span)) ** 2
    ends = np.cumsum([len(piece.samples) for piece in pieces])[:-1]
    return all(part.mean() < limit_px**2 for part in np.split(off, ends))


def _merged(pieces: Sequence[RoomLine]) -> RoomLine:
    """One line of all samples in their order, under the first piece's name."""
    if len(pieces) == 1:
        return pieces[0]
    heading = pieces[0].heading
    ordered = sorted(pieces, key=lambda piece: float(piece.ends_px[0] @ heading))
    parts = [piece.samples for piece in ordered]
    samples = EdgeSamples(
        np.concatenate([part.points_px for part in parts]),
        np.concatenate([part.normals_px for part in parts]),
        np.concatenate([part.sigma_px for part in parts]),
    )
    return RoomLine(pieces[0].name, samples, pieces=tuple(pieces))

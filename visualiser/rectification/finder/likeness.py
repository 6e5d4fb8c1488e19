"""How many others look as a quadrilateral does: the motifs of a rug, a row of mats, a chessboard.

A sheet is taped up alone, or with one other. What a picture shows by the dozen is a pattern.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.finder.sides import SideEvidence
from visualiser.rectification.quadrilaterals import signed_area

Array = NDArray[np.float64]

SAME_SIZE, SAME_COLOUR, SAME_STEP = 0.3, 0.15, 0.25
"""By how much two that are alike differ at most: in size and colour, as logarithms, and in the step
across their sides, as a share of it."""
ELSEWHERE = 0.7
"""How far apart the middles of two objects lie at least, in sizes: several quadrilaterals lie on
one and the same object."""
SAME_START = 0.03
"""Guesses whose corners all lie within this share of their size lead to the same sides."""


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """What tells Q quadrilaterals from each other.

    Parameters
    ----------
    size
        (Q,) root of the area, working px.
    middle
        (Q, 2) middle of the corners, working px.
    inside, step
        (Q, 3) planes just inside, and by how much they exceed those just outside.
    """

    size: Array
    middle: Array
    inside: Array
    step: Array

    @classmethod
    def of(cls, quads: Array, evidence: SideEvidence) -> Looks:
        """Take them from quadrilaterals (Q, 4, 2) and what the picture says of their sides."""
        return cls(
            np.sqrt(np.abs(signed_area(quads))),
            quads.mean(axis=1),
            np.median(evidence.inside, axis=(1, 2)),
            np.median(evidence.steps, axis=(1, 2)),
        )

    def __getitem__(self, index: NDArray[np.intp]) -> Looks:
        """Pick those of these numbers."""
        return Looks(self.size[index], self.middle[index], self.inside[index], self.step[index])

    def joined(self, other: Looks) -> Looks:
        """Put others behind these."""
        return Looks(
            np.concatenate([self.size, other.size]),
            np.concatenate([self.middle, other.middle]),
            np.concatenate([self.inside, other.inside]),
            np.concatenate([self.step, other.step]),
        )


def crowding(ones: Looks, among: Looks, *, any_colour: bool) -> Array:
    """Log-odds (Q,) that each loses by being one of many alike.

    Two sheets are put up for a better scale; of cards there is one, of panes there are rows.
    """
    usual = 0 if any_colour else 1
    return np.maximum(likenesses(ones, among) - usual, 0)


def likenesses(ones: Looks, among: Looks) -> Array:
    """Count (Q,) for each the objects among others, elsewhere in the picture, that are alike."""
    strength = np.linalg.norm(ones.step, axis=1)[:, None]
    alike = (
        (np.abs(np.log(ones.size[:, None] / among.size)) < SAME_SIZE)
        & (np.abs(ones.inside[:, None] - among.inside).max(axis=-1) < SAME_COLOUR)
        & (np.linalg.norm(ones.step[:, None] - among.step, axis=-1) < SAME_STEP * strength)
    )
    reach = ELSEWHERE * ones.size
    away = np.linalg.norm(ones.middle[:, None] - among.middle, axis=-1) > reach[:, None]
    between = np.linalg.norm(among.middle[:, None] - among.middle, axis=-1)
    elsewhere = alike & away
    counts = np.zeros(len(ones.size))
    for index in np.flatnonzero(elsewhere.any(axis=1)):
        places = np.flatnonzero(elsewhere[index])
        while len(places):
            counts[index] += 1
            places = places[between[places[0], places] > reach[index]]
    return counts


def apart(quads: Array, order: NDArray[np.intp]) -> NDArray[np.intp]:
    """Keep of an order of quadrilaterals those that do not start where an earlier one does."""
    reach = SAME_START * np.sqrt(np.abs(signed_area(quads)))
    kept: list[np.intp] = []
    for index in order:
        off = np.abs(quads[kept] - quads[index]).max(axis=(1, 2), initial=0.0)
        if not len(kept) or off.min() > reach[index]:
            kept.append(index)
    return np.array(kept, np.intp)

"""How straight one photo's building is: the scale of its edges' strays is an unknown of the photo.

A new flat, a drawn room and an old farm stray by very different amounts. What is usual is known
from many buildings; how far this one departs from it is estimated from what its own edges are left
with after the fit, so much the more as there are more of them.

References
----------
D. J. C. MacKay, "Bayesian interpolation", Neural Computation 4, 1992 (from memory): a scale of many
effects from their estimates, each counted by how well it is determined.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

USUAL_COUNT = 5.0
"""What is usual counts like so many well-seen edges. (Between 49 photographs of York Urban the
logarithm of the scale of bows, and of the strays of plumb edges, differs by 0.3; of level ones by
0.7, mistaken ones among them. An inverse gamma distribution of the variance with so many degrees of
freedom differs by 0.32.)"""
FAR_SIGMAS, LEFT_OF_SQUARE = 3.0, 0.99
"""A stray counts for no more than one of so many sigmas: one bent shelf is no bent building. So
much is then left of the mean square of a normal variable."""


@dataclass(frozen=True, slots=True)
class Building:
    """Factors on what edges usually stray by; all one where nothing is known of the building.

    Parameters
    ----------
    plumb, level
        On the spread about plumb, and about level.
    bow
        On how far the middles of edges stray from their chords.
    """

    plumb: float = 1.0
    level: float = 1.0
    bow: float = 1.0

    @property
    def surprise(self) -> float:
        """Minus twice the logarithm of how likely such factors are, against the usual ones."""
        square = np.square([self.plumb, self.level, self.bow])
        return float(USUAL_COUNT * (np.log(square) + 1 / square - 1).sum())

    def is_near(self, other: Building, share: float) -> bool:
        """Whether no factor differs by more than a share."""
        ratio = np.log([self.plumb / other.plumb, self.level / other.level, self.bow / other.bow])
        return bool((np.abs(ratio) < share).all())


def scale_of(strays: Array, determined: Array, before: float = 1.0) -> float:
    """Estimate the factor on usual strays from some estimates of them.

    Parameters
    ----------
    strays
        (N,) estimates, in usual sigmas.
    determined
        (N,) share of each that was measured, not assumed; 0 where nothing was.
    before
        Factor with which they were estimated.
    """
    square = np.minimum(strays**2, (FAR_SIGMAS * before) ** 2) / LEFT_OF_SQUARE
    return float(np.sqrt((USUAL_COUNT + square.sum()) / (USUAL_COUNT + determined.sum())))

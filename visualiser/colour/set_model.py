"""How much pieces of one set differ, and sets from each other: a model fitted to real pictures.

Each picture is seven numbers: mean L*, a*, b*, their spread, and mean chroma, all by share, so
amounts count. Pictures of one set scatter about the set's own middle with one covariance, and the
middles of sets about that of all with another. The evidence that a piece is a stranger is then
the logarithm of how much likelier it is as a piece of some other set than as one more of this.

References
----------
S. Ioffe, "Probabilistic linear discriminant analysis", ECCV 2006, LNCS 3954:531-542; the form
with two full covariances: N. Brummer, E. de Villiers, "The speaker partitioning problem", Odyssey
2010 (both from memory).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from visualiser.colour.palette import Palette

MEASURES = ("mean L*", "mean a*", "mean b*", "spread of L*", "spread of a*", "spread of b*", "C*")


_PRIOR_PIECES = 30.0
"""Pieces that the fitted covariance counts as, beside the few of the set in hand."""


@dataclass(frozen=True, slots=True, eq=False)
class SetModel:
    """Two covariances of the seven measures of a picture.

    Parameters
    ----------
    middle
        (7,) mean over all sets.
    within
        (7, 7) covariance of pieces about the middle of their set.
    between
        (7, 7) covariance of the middles of sets.
    """

    middle: NDArray[np.float64]
    within: NDArray[np.float64]
    between: NDArray[np.float64]

    def evidence(self, pieces: NDArray[np.float64]) -> NDArray[np.float64]:
        """Evidence (N,) against each of N pieces, natural logarithms; above 0 speaks against.

        Parameters
        ----------
        pieces
            (N, 7) measures of the pieces of one set, two or more.
        """
        precise = np.linalg.inv(self.between)
        found = np.empty(len(pieces))
        for k, piece in enumerate(pieces):
            rest = np.delete(pieces, k, axis=0)
            # A set that is spread widely itself allows a piece more: its own scatter counts too.
            scatter = (rest - rest.mean(0)).T @ (rest - rest.mean(0))
            within = (_PRIOR_PIECES * self.within + scatter) / (_PRIOR_PIECES + len(rest) - 1)
            own = np.linalg.inv(within)
            # Where the set's middle lies, judged by the rest alone.
            doubt = np.linalg.inv(precise + len(rest) * own)
            middle = doubt @ (precise @ self.middle + len(rest) * own @ rest.mean(0))
            stranger = _log_density(piece - self.middle, self.between + within)
            found[k] = stranger - _log_density(piece - middle, within + doubt)
        return found


@cache
def set_model() -> SetModel:
    """Load the model fitted to 92 paintings and prints in 18 sets of one hand or kind."""
    table = resources.files("visualiser.colour").joinpath("set_model.json")
    values = json.loads(table.read_text("utf-8"))
    return SetModel(*(np.array(values[name]) for name in ("middle", "within", "between")))


def measures(palettes: Sequence[Palette]) -> NDArray[np.float64]:
    """Seven measures (N, 7) of each of N palettes."""
    found = np.empty((len(palettes), len(MEASURES)))
    for row, palette in zip(found, palettes, strict=True):
        lab, shares = palette.lab, palette.shares
        mean = shares @ lab
        row[:3] = mean
        row[3:6] = np.sqrt(shares @ (lab - mean) ** 2)
        row[6] = shares @ np.hypot(lab[:, 1], lab[:, 2])
    return found


def fitted(sets: Sequence[NDArray[np.float64]], towards_diagonal: float = 0.7) -> SetModel:
    """Fit the model to sets of known pieces.

    Parameters
    ----------
    sets
        One array (n, 7) of measures a set.
    towards_diagonal
        How far covariances within sets are drawn to independence; those between are drawn half
        way. With 18 sets the whole matrices would be mostly chance.
    """
    inside = sum((x - x.mean(0)).T @ (x - x.mean(0)) for x in sets)
    within = np.asarray(inside) / sum(len(x) - 1 for x in sets)
    within = (1 - towards_diagonal) * within + towards_diagonal * np.diag(np.diag(within))
    middles = np.array([x.mean(0) for x in sets])
    between = np.cov(middles.T) - within * np.mean([1 / len(x) for x in sets])
    least = np.maximum(np.diag(between), 0.1 * np.diag(within))
    between = 0.5 * between + 0.5 * np.diag(least)
    # No direction in which sets differ much less than their pieces.
    scale = np.sqrt(np.diag(within))
    values, vectors = np.linalg.eigh(between / np.outer(scale, scale))
    between = (vectors * np.maximum(values, 0.1)) @ vectors.T * np.outer(scale, scale)
    return SetModel(middles.mean(0), within, between)


def _log_density(step: NDArray[np.float64], covariance: NDArray[np.float64]) -> float:
    """Logarithm of a normal density at a step from its middle, without the constant."""
    factor = np.linalg.cholesky(covariance)
    z = np.linalg.solve(factor, step)
    return float(-0.5 * z @ z - np.log(np.diag(factor)).sum())

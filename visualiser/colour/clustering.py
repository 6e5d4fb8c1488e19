"""Group the colours of a picture: deterministic, weighted, and quick.

The colours come as a histogram (a few thousand different ones with weights) in a space where
straight distance is what the eye sees. They settle on the centres that minimise the mean distance
(not its square: the mean is what is judged, and it lets small vivid groups be).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_STILL = 0.15
"""Centres that move less than this, in units of the space, have settled."""

Points = NDArray[np.float64]
"""(N, 3) colours in a nearly uniform space."""
Weights = NDArray[np.float64]
"""(N,) weights that sum to 1."""


def group_sums(labels: NDArray[np.intp], values: Weights, count: int) -> Weights:
    """Add up values (N,) by group number, to (K,)."""
    return np.bincount(labels, values, count).astype(np.float64)


def centres_of(
    points: Points, weights: Weights, labels: NDArray[np.intp], count: int
) -> tuple[Points, Weights]:
    """Weighted means (K, 3) of the groups and their weights (K,)."""
    belongs = np.where(labels[:, None] == np.arange(count), weights[:, None], 0.0)
    mass = np.einsum("nk->k", belongs)
    return (belongs.T @ points) / np.maximum(mass, 1e-300)[:, None], mass


def distances_to(points: Points, centres: Points) -> NDArray[np.float64]:
    """Straight distances (N, K) from points to centres."""
    squared = points @ (-2 * centres.T)
    squared += np.einsum("nc,nc->n", points, points)[:, None]
    squared += np.einsum("kc,kc->k", centres, centres)
    np.maximum(squared, 0, out=squared)
    return np.asarray(np.sqrt(squared, out=squared))


def settle(
    points: Points, weights: Weights, centres: Points, rounds: int = 12
) -> tuple[Points, NDArray[np.intp]]:
    """Move centres until the weighted mean distance to the nearest one no longer falls.

    Returns the centres (K, 3) and the group numbers (N,); a centre without members stays.

    References
    ----------
    E. Weiszfeld, "Sur le point pour lequel la somme des distances de n points donnés est
    minimum", Tohoku Math. J. 43:355-386, 1937: each point counts by the inverse of its distance.
    """
    centres = centres.copy()
    stack = np.arange(len(points))
    for _ in range(rounds):
        distances = distances_to(points, centres)
        labels = distances.argmin(1)
        pull = weights / np.maximum(distances[stack, labels], 1.0)
        moved, mass = centres_of(points, pull, labels, len(centres))
        moved[mass == 0] = centres[mass == 0]
        shift = np.abs(moved - centres).max()
        centres = moved
        if shift < _STILL:
            break
    return centres, distances_to(points, centres).argmin(1)


def merge_once(centres: Points, mass: Weights) -> tuple[float, Points, Weights]:
    """Join the two groups that cost least; returns that cost, and the fewer centres and weights.

    The cost is by how much joining raises the mean distance, if each group were one colour: the
    lighter of the two has to travel to the other.
    """
    distances = distances_to(centres, centres)
    cost = np.minimum(mass[:, None], mass) * distances
    np.fill_diagonal(cost, np.inf)
    i, j = np.unravel_index(int(cost.argmin()), cost.shape)
    least = float(cost[i, j])
    total = mass[i] + mass[j]
    joined = (mass[i] * centres[i] + mass[j] * centres[j]) / total
    keep = np.ones(len(centres), bool)
    keep[[i, j]] = False
    return least, np.vstack([centres[keep], joined]), np.append(mass[keep], total)

"""Group the colours of a picture: deterministic, weighted, and quick.

The colours come as a histogram (a few thousand different ones with weights) in a space where
straight distance is what the eye sees. They are split along their widest spread into more groups
than wanted, merged where it costs least, and settled on the centres that minimise the mean
distance (not its square: the mean is what is judged, and it lets small vivid groups be).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_WIDE_REACH, _NARROW_REACH, _COOLING_STEPS = 6.0, 1.5, 12
"""Annealing begins at about half the distance between a palette's swatches, and ends at what the
eye just tells apart, in units of the space."""

_STILL = 0.15
"""Centres that move less than this, in units of the space, have settled."""

Points = NDArray[np.float64]
"""(N, 3) colours in a nearly uniform space."""
Weights = NDArray[np.float64]
"""(N,) weights that sum to 1."""


def split(points: Points, weights: Weights, count: int) -> NDArray[np.intp]:
    """Group numbers (N,) of up to ``count`` groups, cut across their widest spread.

    References
    ----------
    M. T. Orchard, C. A. Bouman, "Color quantization of images", IEEE Trans. Signal Process.
    39(12):2677-2690, 1991: binary splitting by the principal axis.
    """
    labels = np.zeros(len(points), np.intp)
    spreads = [_widest(points, weights)]
    for new in range(1, count):
        parent = int(np.argmax([s[0] for s in spreads]))
        if spreads[parent][0] <= 1e-9:
            break
        _, axis, middle = spreads[parent]
        members = np.flatnonzero(labels == parent)
        beyond = members[points[members] @ axis > middle]
        if len(beyond) in (0, len(members)):
            spreads[parent] = (0.0, axis, middle)
            continue
        labels[beyond] = new
        rest = np.flatnonzero(labels == parent)
        spreads[parent] = _widest(points[rest], weights[rest])
        spreads.append(_widest(points[beyond], weights[beyond]))
    return np.unique(labels, return_inverse=True)[1].astype(np.intp)


def _widest(points: Points, weights: Weights) -> tuple[float, Points, float]:
    """Total spread along the principal axis, that axis, and where the mean lies on it."""
    total = weights.sum()
    mean = weights @ points / total
    around = points - mean
    values, vectors = np.linalg.eigh((around * weights[:, None]).T @ around)
    return float(values[-1]), vectors[:, -1], float(mean @ vectors[:, -1])


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


def anneal(points: Points, weights: Weights, centres: Points) -> Points:
    """Let centres find their places while every colour still belongs to several of them.

    At a wide reach the few valleys of the landscape are broad, so where the centres go does not
    hang on small things; the reach then narrows until colours belong to one centre each.

    References
    ----------
    K. Rose, "Deterministic annealing for clustering, compression, classification, regression, and
    related optimization problems", Proc. IEEE 86(11):2210-2239, 1998, section II, with masses.
    """
    centres = centres.copy()
    mass = np.full(len(centres), 1 / len(centres))
    for reach in np.geomspace(_WIDE_REACH, _NARROW_REACH, _COOLING_STEPS):
        squared = distances_to(points, centres) ** 2
        nearer = np.exp((squared.min(1, keepdims=True) - squared) / (2 * reach**2)) * mass
        belongs = nearer * (weights / nearer.sum(1))[:, None]
        mass = belongs.sum(0) + 1e-9
        centres = (belongs.T @ points) / mass[:, None]
    return centres


def mean_distance(points: Points, weights: Weights, centres: Points) -> float:
    """Weighted mean distance to the nearest centre: what the groups are judged by."""
    return float(weights @ distances_to(points, centres).min(1))


def improve(
    points: Points, weights: Weights, centres: Points, rounds: int = 4, tries: int = 3
) -> Points:
    """Settle, then move whole centres from where they are spare to where one is missing.

    Settling alone stops in the nearest valley. Which valley that is depends on small things, and
    the same picture at another size would get other swatches. So as long as it pays, the centre
    that is least missed is taken away and the group that gains most by it is cut in two.
    """
    centres, labels = settle(points, weights, centres)
    best = mean_distance(points, weights, centres)
    for _ in range(rounds):
        for candidate in _relocations(points, weights, centres, labels, tries, 0.05 * best):
            moved, groups = settle(points, weights, candidate)
            now = mean_distance(points, weights, moved)
            if now < 0.999 * best:
                centres, labels, best = moved, groups, now
                break
        else:
            break
    return centres


def _relocations(
    points: Points,
    weights: Weights,
    centres: Points,
    labels: NDArray[np.intp],
    tries: int,
    allowance: float,
) -> list[Points]:
    """Centres with one taken away and another cut in two, the most promising first.

    What is promised takes the other groups as they stand, so some loss, the allowance, may still
    turn into a gain once all have settled.
    """
    count = len(centres)
    if count < 2:
        return []
    first, second = np.partition(distances_to(points, centres), 1, axis=1)[:, :2].T
    missed = group_sums(labels, weights * (second - first), count)
    spent = group_sums(labels, weights * first, count)
    # Only the groups that spend most are worth cutting.
    halves = {
        int(g): _halved(points[labels == g], weights[labels == g])
        for g in np.argsort(-spent, kind="stable")[: tries + 1]
    }
    profit = np.full((count, count), -np.inf)
    for short, half in halves.items():
        if half is not None:
            profit[:, short] = spent[short] - half[0] - missed
    np.fill_diagonal(profit, -np.inf)
    found: list[Points] = []
    for pair in np.argsort(-profit, axis=None)[:tries]:
        spare, short = divmod(int(pair), count)
        half = halves.get(short)
        if half is None or profit[spare, short] < -allowance:
            break
        found.append(np.vstack([np.delete(centres, [spare, short], axis=0), half[1]]))
    return found


def _halved(points: Points, weights: Weights) -> tuple[float, Points] | None:
    """Cost (weight times distance) and centres (2, 3) of a group cut in two; None if it cannot."""
    if len(points) < 2:
        return None
    labels = split(points, weights, 2)
    if labels.max() == 0:
        return None
    centres, _ = settle(points, weights, centres_of(points, weights, labels, 2)[0], rounds=4)
    return mean_distance(points, weights, centres), centres

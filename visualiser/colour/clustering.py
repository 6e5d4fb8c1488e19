"""Group the colours of a picture: deterministic, weighted, and quick.

The colours come as a histogram (a few thousand different ones with weights) in a space where
straight distance is what the eye sees. They are split along their widest spread into more groups
than wanted, merged where it costs least, and settled on the centres that minimise the mean
distance (not its square: the mean is what is judged, and it lets small vivid groups be).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

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
    mass = group_sums(labels, weights, count)
    sums = [group_sums(labels, weights * points[:, axis], count) for axis in range(3)]
    return np.stack(sums, axis=1) / np.maximum(mass, 1e-300)[:, None], mass


def distances_to(points: Points, centres: Points) -> NDArray[np.float64]:
    """Straight distances (N, K) from points to centres."""
    squared = (points**2).sum(1)[:, None] - 2 * points @ centres.T + (centres**2).sum(1)[None, :]
    return np.asarray(np.sqrt(np.maximum(squared, 0)))


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
        if shift < 0.05:
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


def mean_distance(points: Points, weights: Weights, centres: Points) -> float:
    """Weighted mean distance to the nearest centre: what the groups are judged by."""
    return float(weights @ distances_to(points, centres).min(1))


def improve(
    points: Points, weights: Weights, centres: Points, rounds: int = 6, tries: int = 4
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
    halves = [_halved(points[labels == g], weights[labels == g]) for g in range(count)]
    gain = np.array([-np.inf if h is None else spent[g] - h[0] for g, h in enumerate(halves)])
    profit = gain[None, :] - missed[:, None]
    np.fill_diagonal(profit, -np.inf)
    found: list[Points] = []
    for pair in np.argsort(-profit, axis=None)[:tries]:
        spare, short = divmod(int(pair), count)
        half = halves[short]
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

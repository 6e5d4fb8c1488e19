"""How far apart two palettes are: the earth mover's distance on CIEDE2000.

One palette's shares are turned into the other's at the least total of share times colour
difference. So the distance is in CIEDE2000 units: 0 for the same palette, about 1 for a change
hardly seen, and 100 between all black and all white.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.colour.difference import delta_e_2000
from visualiser.colour.palette import Palette
from visualiser.colour.transport import Flows, transport


def earth_movers_distance(weights_1: ArrayLike, weights_2: ArrayLike, ground: ArrayLike) -> float:
    """Earth mover's distance of two sets of equal total weight.

    Parameters
    ----------
    weights_1, weights_2
        (m,) and (n,) weights with the same total.
    ground
        (m, n) distances between their features.

    References
    ----------
    Y. Rubner, C. Tomasi, L. J. Guibas, "The earth mover's distance as a metric for image
    retrieval", Int. J. Comput. Vis. 40(2):99-121, 2000, equation (1).

    Examples
    --------
    >>> earth_movers_distance([0.5, 0.5], [1.0], [[3.0], [1.0]])
    2.0
    """
    first, second = np.asarray(weights_1, float), np.asarray(weights_2, float)
    cost = np.asarray(ground, float)
    flow = transport(first[None], second[None], cost[None])[0]
    return float((flow * cost).sum() / first.sum())


def palette_distance(palette_1: Palette, palette_2: Palette) -> float:
    """Earth mover's distance of two palettes, in CIEDE2000 units."""
    ground = delta_e_2000(palette_1.lab[:, None], palette_2.lab)
    return earth_movers_distance(palette_1.shares, palette_2.shares, ground)


def palette_flow(palette_1: Palette, palette_2: Palette) -> tuple[Flows, NDArray[np.float64]]:
    """How palette 1 turns into palette 2: shares moved (m, n) and the colour differences (m, n)."""
    ground = delta_e_2000(palette_1.lab[:, None], palette_2.lab)
    return transport(palette_1.shares[None], palette_2.shares[None], ground[None])[0], ground


def palette_distances(
    palettes: Sequence[Palette], others: Sequence[Palette]
) -> NDArray[np.float64]:
    """Distances (M, N) between two lists of palettes, solved together."""
    lab_1, shares_1 = stack_palettes(palettes)
    lab_2, shares_2 = stack_palettes(others)
    ground = delta_e_2000(lab_1[:, None, :, None], lab_2[None, :, None])
    pairs, m, n = len(palettes) * len(others), shares_1.shape[1], shares_2.shape[1]
    costs = ground.reshape(pairs, m, n)
    flows = transport(
        np.repeat(shares_1, len(others), axis=0), np.tile(shares_2, (len(palettes), 1)), costs
    )
    return np.asarray((flows * costs).sum((1, 2)).reshape(len(palettes), len(others)))


def pairwise_distances(palettes: Sequence[Palette]) -> NDArray[np.float64]:
    """Symmetric matrix (N, N) of the distances within one list of palettes."""
    matrix = palette_distances(palettes, palettes)
    symmetric = (matrix + matrix.T) / 2
    np.fill_diagonal(symmetric, 0.0)
    return symmetric


def stack_palettes(palettes: Sequence[Palette]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Colours (N, K, 3) and shares (N, K) of palettes, short ones filled up with shares of 0."""
    size = max((len(p.swatches) for p in palettes), default=1)
    lab, shares = np.zeros((len(palettes), size, 3)), np.zeros((len(palettes), size))
    for i, palette in enumerate(palettes):
        lab[i, : len(palette.swatches)] = palette.lab
        shares[i, : len(palette.swatches)] = palette.shares
    return lab, shares

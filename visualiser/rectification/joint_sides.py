"""Sides of a rectangle chosen together: of several edges near each, those that make the shape.

Beside the side of a sheet run other edges: the joint of bricks that it covers half of, a stripe of
wallpaper, lines printed on it, its shadow. Which of them steps most does not tell which is the
sheet's; but four of them have the shape of a sheet of known sides, and the others make another.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.light_planes import LightPlanes
from visualiser.rectification.side_evidence import (
    EDGE_WIDTH_PX,
    alike,
    move_sides,
    side_gains,
)

Array = NDArray[np.float64]

EDGES = 4
"""Edges looked at near each side."""
CHOICES = np.array(list(product(range(EDGES), repeat=4)))
"""(C, 4) which edge of each side."""
FAINTEST = 0.5
"""Least gain of an edge: the best of a thousand lines through noise alone has as much."""


def joint_choices(
    planes: LightPlanes, quads: Array, reach: float, *, paper: bool
) -> tuple[Array, Array]:
    """Offer every choice of one edge near each side.

    Parameters
    ----------
    planes
        The working planes.
    quads
        (Q, 4, 2) guesses, clockwise, working px.
    reach
        How far from its side an edge may lie, as a fraction of the quadrilateral's size.
    paper
        Whether only steps to the lighter or bluer inside count.

    Returns
    -------
    (Q, C, 4, 2) quadrilaterals; (Q, C, 4) gains of their sides, 0 where there is no such edge.
    """
    choices = np.empty((len(quads), len(CHOICES), 4, 2))
    gains = np.empty((len(quads), len(CHOICES), 4))
    sides = np.arange(4)
    for part, window in alike(quads, reach):
        at_start, at_end, gain = _clearest(planes, quads[part], window, paper=paper)
        picked = np.s_[:, sides, CHOICES]
        many = np.repeat(quads[part], len(CHOICES), axis=0)
        moved = move_sides(many, at_start[picked].reshape(-1, 4), at_end[picked].reshape(-1, 4))
        choices[part] = moved.reshape(len(part), -1, 4, 2)
        gains[part] = gain[picked]
    return choices, gains


def _clearest(
    planes: LightPlanes, quads: Array, window: int, *, paper: bool
) -> tuple[Array, Array, Array]:
    """Where the clearest edges by each side lie at its ends, and their gains: each (Q, 4, E)."""
    lines = side_gains(planes, quads, window, paper=paper)
    left = lines.gain.copy()
    at_start, at_end, gains = (np.zeros((len(quads), 4, EDGES)) for _ in range(3))
    for k in range(EDGES):
        best = left.argmax(axis=-1)
        first, last = lines.first[best], lines.last[best]
        gain = np.take_along_axis(left, best[..., None], axis=-1)[..., 0]
        at_start[..., k], at_end[..., k] = first, last
        gains[..., k] = np.where(gain >= FAINTEST, gain, 0)
        # Lines that lie on the same edge all along, or cross it, are no other edge.
        off_start, off_end = lines.first - first[..., None], lines.last - last[..., None]
        same = (np.minimum(np.abs(off_start), np.abs(off_end)) <= EDGE_WIDTH_PX) | (
            off_start * off_end < 0
        )
        left = np.where(same, -1.0, left)
    return at_start, at_end, gains

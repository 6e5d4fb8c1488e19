"""Which lines are alone in what they say of the camera: nothing else checks their direction."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from visualiser.rectification.camera.adjustment import Solution
from visualiser.rectification.camera.line_observation import LINE_TURN, PER_LINE, Direction
from visualiser.rectification.camera.projection import CAMERA_SIZE

CHECKED_DEG, MOST = 2.0, 3
"""A line is lone whose direction everything else leaves unsure by more than the first; at most so
many are worth a fit of their own."""


def lone_lines(solution: Solution, directions: Sequence[Direction]) -> list[int]:
    """Find lines of known direction that nothing else checks, the loneliest first.

    One edge taken for level and away from the wall can place the axis of a trimmed photo, whatever
    it is: the line agrees with itself.

    Parameters
    ----------
    solution
        The camera adjusted to references and, as its last observation, lines.
    directions
        What the lines were taken for.
    """
    before = CAMERA_SIZE + sum(int(free.sum()) for free in solution.own_free[:-1])
    places = before + PER_LINE * np.arange(len(directions)) + LINE_TURN
    held = np.array([d.sigma_rad for d in directions]) ** -2
    checked = np.maximum(1 / np.diag(solution.joint)[places] - held, 0.0)
    checked[[d.kind == "straight" for d in directions]] = np.inf
    order = np.argsort(checked, kind="stable")
    return [int(i) for i in order if checked[i] < np.radians(CHECKED_DEG) ** -2][:MOST]

"""Marks that a hand has let go: put on the edges they were meant for, to a fraction of a pixel."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx, frozen
from visualiser.photo.photo import Photo
from visualiser.rectification.edges.corners import meeting_corners
from visualiser.rectification.edges.linear_view import LinearView
from visualiser.rectification.edges.locate import no_samples, sample_path
from visualiser.rectification.reference import EdgeSamples

Array = NDArray[np.float64]

REACH_SHARE, MIN_REACH_PX = 0.004, 4.0
"""How far from an edge a hand lets go: a share of the photo's long side, shown a screen wide."""
MIN_SIDE_PX = 30.0
TRIM = 0.08
"""Share of a side left out at each end: corners are rounded, curled or taped."""
MOST_POINTS = 24
MOST_WANDER_PX = 1.0
"""An edge less sure than this is left alone: a mark that jumps to noise is worse than a hand's."""


def snapped_line(photo: Photo, points_px: PointsPx) -> PointsPx:
    """Put the points of a line on the edge that runs along it.

    Parameters
    ----------
    photo
        The photo.
    points_px
        (N, 2) points along the line; each stretch between two is looked along.

    Returns
    -------
    (N, 2) the points, moved at right angles to the line; unmoved where no edge is near.
    """
    points = frozen(points_px, (None, 2))
    reach = _reach(photo)
    shifts: list[list[Array]] = [[] for _ in points]
    for i in range(len(points) - 1):
        shift = _shift_to_edge(
            _side(photo, points[i], points[i + 1], reach, 0.0), points[i : i + 2]
        )
        for end, moved in enumerate(shift):
            if np.hypot(*moved) <= reach and moved.any():
                shifts[i + end].append(moved)
    return np.array(
        [p + (np.mean(s, axis=0) if s else 0.0) for p, s in zip(points, shifts, strict=True)]
    )


def snapped_corners(photo: Photo, corners_px: PointsPx, moved: list[int]) -> PointsPx:
    """Put corners of an outline where the edges along its two sides meet.

    Parameters
    ----------
    photo
        The photo.
    corners_px
        (N, 2) corners in order, either way round.
    moved
        Which of them the hand has moved; the others stay.

    Returns
    -------
    (N, 2) the corners; one whose two sides are not both seen as edges, or whose meeting point is
    out of a hand's reach, stays.
    """
    corners = np.array(frozen(corners_px, (None, 2)))
    count, reach = len(corners), _reach(photo)
    if not 3 <= count <= MOST_POINTS:
        return corners
    out = corners.copy()
    for i in moved:
        before, here, after = corners[i - 1], corners[i], corners[(i + 1) % count]
        sides = (_side(photo, before, here, reach, TRIM), _side(photo, here, after, reach, TRIM))
        if not all(len(side) for side in sides):
            continue
        # A quadrilateral whose other two sides are not looked at: its second corner is wanted.
        quad = np.array([before, here, after, before + after - here])
        met = meeting_corners(quad, (*sides, no_samples(), no_samples()))[0][1]
        if np.hypot(*(met - here)) <= 1.5 * reach:
            out[i] = met
    return out


def _reach(photo: Photo) -> float:
    return max(MIN_REACH_PX, REACH_SHARE * max(photo.width_px, photo.height_px))


def _side(photo: Photo, start: Array, end: Array, reach: float, trim: float) -> EdgeSamples:
    length = float(np.hypot(*(end - start)))
    if length < MIN_SIDE_PX:
        return no_samples()
    share = np.linspace(trim, 1 - trim, max(int(length * (1 - 2 * trim)), 2))
    path = start + share[:, None] * (end - start)
    view = LinearView.around(photo.pixels, np.array([start, end]), reach + 10)
    samples = sample_path(view, path, reach)
    clear = samples.look is not None and samples.look.wander_px <= MOST_WANDER_PX
    return samples if clear else no_samples()


def _shift_to_edge(side: EdgeSamples, ends: Array) -> Array:
    """How far (2, 2) the two ends lie from the line through the samples, at right angles to it."""
    if not len(side):
        return np.zeros((2, 2))
    run = ends[1] - ends[0]
    across = np.array([-run[1], run[0]])
    square = np.array([ends[0], ends[1], ends[1] + across, ends[0] + across])
    none = no_samples()
    return np.asarray(meeting_corners(square, (side, none, none, none))[0][:2] - ends)

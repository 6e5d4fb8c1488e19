"""Straight segments seen in a top view, and the square corners they make."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

Array = NDArray[np.float64]

SHORTEST = 14.0
"""Segments shorter than this, in samples, are texture."""
SHORTEST_JOINED = 24.0
"""The same once collinear ones are merged."""
MOST_SEGMENTS = 1500
"""The longest are kept; tiles and boards have that many beside the pieces."""
TURN = np.radians(1.6)
ASIDE = 1.6
APART = 14.0
"""Segments of one edge: turned, aside and apart by no more (rad, samples, samples)."""
SQUARE = np.radians(3.5)
"""Corners of a frame are square to within this in a top view."""
REACH = 11.0
"""How far from its segments' ends a corner may lie, in samples: ends are worn, blurred, hidden."""
LEG = 18.0
"""Shortest leg of a corner, in samples."""


class Corners(NamedTuple):
    """Corners (C, 2), the unit directions of both legs (C, 2) each, and the legs' lengths (C,).

    The second leg lies clockwise of the first as seen (y down).
    """

    at: Array
    first: Array
    second: Array
    first_length: Array
    second_length: Array


def find_segments(channels: NDArray[np.uint8], inside: NDArray[np.bool_]) -> Array:
    """Detect straight segments (N, 2, 2) in the channels (H, W, C) of a top view.

    What runs along the rim of the photo, beyond which nothing is ``inside``, is left out.

    References
    ----------
    R. Grompone von Gioi, J. Jakubowicz, J.-M. Morel & G. Randall, "LSD: a line segment detector",
    Image Processing On Line 2, 2012; OpenCV's implementation.
    """
    detector = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD, 1.0)
    found = [np.empty((0, 4))]
    for plane in cv2.split(channels):
        lines = detector.detect(np.ascontiguousarray(plane))[0]
        if lines is not None:
            found.append(np.asarray(lines, float).reshape(-1, 4))
    ends = np.concatenate(found).reshape(-1, 2, 2)
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    middle = np.rint(ends.mean(axis=1)).astype(int)
    clear = cv2.erode(inside.astype(np.uint8), np.ones((7, 7), np.uint8), borderValue=0)
    ends = ends[(length > SHORTEST) & (clear[middle[:, 1], middle[:, 0]] > 0)]
    order = np.argsort(-np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1), kind="stable")
    return merge_collinear(ends[order[:MOST_SEGMENTS]])


def merge_collinear(ends: Array) -> Array:
    """Merge collinear segments (N, 2, 2) of one edge, split or seen in several channels."""
    if not len(ends):
        return ends
    run = ends[:, 1] - ends[:, 0]
    length = np.linalg.norm(run, axis=1)
    along = run / length[:, None]
    middle = ends.mean(axis=1)
    normal = np.c_[-along[:, 1], along[:, 0]]
    turned = np.abs(along @ normal.T) < np.sin(TURN)
    i, j = np.nonzero(np.triu(turned, 1))
    apart = middle[j] - middle[i]
    # The longer of two, which comes first, says where both should lie.
    aside = np.abs((apart * normal[i]).sum(axis=1))
    between = np.abs((apart * along[i]).sum(axis=1)) - (length[i] + length[j]) / 2
    same = (aside < ASIDE) & (between < APART)
    graph = coo_matrix((np.ones(same.sum()), (i[same], j[same])), shape=(len(ends),) * 2)
    count, label = connected_components(graph, directed=False)
    first = np.full(count, len(ends))
    np.minimum.at(first, label, np.arange(len(ends)))
    # Every end is projected to the weighted mean line of its component.
    weight = np.bincount(label, length)
    sign = np.sign((along * along[first[label]]).sum(axis=1))
    mean = np.stack(
        [np.bincount(label, length * sign * along[:, k]) / weight for k in (0, 1)], axis=1
    )
    mean /= np.linalg.norm(mean, axis=1, keepdims=True)
    centre = np.stack([np.bincount(label, length * middle[:, k]) / weight for k in (0, 1)], axis=1)
    t = ((ends - centre[label][:, None]) * mean[label][:, None]).sum(axis=2)
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, label, t.min(axis=1))
    np.maximum.at(high, label, t.max(axis=1))
    joined = np.stack([centre + low[:, None] * mean, centre + high[:, None] * mean], axis=1)
    return np.asarray(joined[high - low > SHORTEST_JOINED])


def find_corners(ends: Array) -> Corners:
    """Find where two segments (N, 2, 2) meet squarely: at their ends, or where one passes."""
    run = ends[:, 1] - ends[:, 0]
    length = np.linalg.norm(run, axis=1)
    along = run / np.maximum(length, 1e-9)[:, None]
    cosine = along @ along.T
    i, j = np.nonzero(np.triu(np.abs(cosine) < np.sin(SQUARE), 1))
    cross = along[i, 0] * along[j, 1] - along[i, 1] * along[j, 0]
    apart = ends[j, 0] - ends[i, 0]
    t = (apart[:, 0] * along[j, 1] - apart[:, 1] * along[j, 0]) / cross
    s = (apart[:, 0] * along[i, 1] - apart[:, 1] * along[i, 0]) / cross
    near = (t > -REACH) & (t < length[i] + REACH) & (s > -REACH) & (s < length[j] + REACH)
    i, j, t, s = i[near], j[near], t[near], s[near]
    at = ends[i, 0] + t[:, None] * along[i]
    parts = []
    for one in (1.0, -1.0):
        for other in (1.0, -1.0):
            leg = length[i] - t if one > 0 else t
            other_leg = length[j] - s if other > 0 else s
            good = (leg > LEG) & (other_leg > LEG)
            a, b = one * along[i[good]], other * along[j[good]]
            turn = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
            swap = turn < 0
            la, lb = leg[good], other_leg[good]
            parts.append(
                (
                    at[good],
                    np.where(swap[:, None], b, a),
                    np.where(swap[:, None], a, b),
                    np.where(swap, lb, la),
                    np.where(swap, la, lb),
                )
            )
    return Corners(*(np.concatenate(p) for p in zip(*parts, strict=True)))

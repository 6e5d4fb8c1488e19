"""Many quadrilaterals at once, as arrays (..., 4, 2) of photo points: y runs down."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx

Array = NDArray[np.float64]


def signed_area(quads: PointsPx) -> Array:
    """Areas (...), positive where the corners run clockwise as seen."""
    x, y = quads[..., 0], quads[..., 1]
    return np.asarray(0.5 * (x * following(y) - y * following(x)).sum(axis=-1))


def side_runs(quads: PointsPx) -> Array:
    """From each corner to the next, (..., 4, 2)."""
    return np.asarray(quads[..., [1, 2, 3, 0], :] - quads)


def side_lengths(quads: PointsPx) -> Array:
    """Lengths (..., 4) of the sides, the first from corner 0 to corner 1."""
    run = side_runs(quads)
    return np.asarray(np.hypot(run[..., 0], run[..., 1]))


def outward_normals(quads: PointsPx) -> Array:
    """Point out of the sides of clockwise quadrilaterals: unit normals (..., 4, 2)."""
    run = side_runs(quads)
    tangent = run / np.maximum(np.linalg.norm(run, axis=-1, keepdims=True), 1e-9)
    return np.stack([tangent[..., 1], -tangent[..., 0]], axis=-1)


def is_convex(quads: PointsPx) -> NDArray[np.bool_]:
    """Which clockwise quadrilaterals are strictly convex, (...)."""
    run = side_runs(quads)
    x, y = run[..., 0], run[..., 1]
    return np.asarray((x * following(y) - y * following(x) > 0).all(axis=-1), dtype=np.bool_)


def clockwise(quads: PointsPx) -> PointsPx:
    """Bring corners into order: top-left first, clockwise as seen.

    Top-left is the corner from which the side nearest to level runs rightwards, so that a sheet
    hung a little crooked keeps its top.
    """
    quads = np.asarray(quads, float)
    backwards = signed_area(quads)[..., None, None] < 0
    quads = np.where(backwards, quads[..., ::-1, :], quads)
    run = side_runs(quads)
    level = run[..., 0] / np.maximum(np.hypot(run[..., 0], run[..., 1]), 1e-9)
    order = (np.argmax(level, axis=-1)[..., None] + np.arange(4)) % 4
    return np.asarray(np.take_along_axis(quads, order[..., None], axis=-2))


def following(values: Array) -> Array:
    """Each corner's successor in an array (..., 4)."""
    return values[..., [1, 2, 3, 0]]

"""The shadow that a thing casts on the wall beside it: frames and canvases do, paper lies flat."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.light_planes import LightPlanes
from visualiser.rectification.quadrilaterals import outward_normals, side_lengths, side_runs

Array = NDArray[np.float64]

NEAR, FAR = (0.036, 0.05, 0.064), (0.16, 0.2, 0.24, 0.3)
"""Where shade is looked for and where it has ended, outward, in mean sides: about an A4 sheet a
centimetre from it and four to seven."""
NEAREST_PX = 3.5
"""The blur of the edge itself reaches so far."""
ALONG, PAST = (0.1, 0.9), (0.2, 0.35)
"""From where to where along a side, and how far past its ends, in shares of its length."""
STRIPE = 2.0
"""What runs on by half as much past either end is a stripe: a shadow falls to one side."""


def cast_shade(planes: LightPlanes, quads: Array) -> Array:
    """Log-lightness (Q,) by which the wall is darker all along one side than further out.

    What runs on past both ends of the side is a stripe of the wall's own. Where light varies along
    any side, or a hue changes away from it, the wall has a pattern or something else hangs there: a
    shadow hardly changes the hue. Only what exceeds all that counts.

    Parameters
    ----------
    planes
        The working planes.
    quads
        (Q, 4, 2) corners in working px, clockwise.
    """
    along = _lightening(planes, quads, np.linspace(*ALONG, 25))
    change = np.median(along, axis=2)  # (Q, 4, 3)
    shade, hues = change[..., 0], np.abs(change[..., 1:]).max(axis=-1)
    spread = 1.4826 * np.median(np.abs(along[..., 0] - shade[..., None]), axis=2)
    past = np.linspace(*PAST, 5)
    ends = [np.median(_lightening(planes, quads, t)[..., 0], axis=2) for t in (-past, 1 + past)]
    stripe = STRIPE * np.maximum(np.minimum(*ends), 0)
    pattern = np.maximum(spread, hues).max(axis=1, keepdims=True)
    return np.asarray(np.maximum(shade - pattern - stripe, 0).max(axis=1))


def _lightening(planes: LightPlanes, quads: Array, t: Array) -> Array:
    """By how much the planes rise away from each side, at shares (T,) of its length: (Q, 4, T, 3).

    None does where that lies past the picture's rim.
    """
    run, outward = side_runs(quads), outward_normals(quads)
    size = side_lengths(quads).mean(axis=1, keepdims=True)
    distance = np.concatenate(
        [np.maximum(size * NEAR, NEAREST_PX + np.arange(len(NEAR))), size * FAR], axis=1
    )
    path = quads[:, :, None] + t[:, None] * run[:, :, None]  # (Q, 4, T, 2)
    points = path[:, :, :, None] + distance[:, None, None, :, None] * outward[:, :, None, None]
    values = planes.sample(points.reshape(len(quads), -1, 2)).reshape(*points.shape[:-1], 3)
    inside = np.asarray(planes.contains(points).all(axis=3))
    near, far = values[..., : len(NEAR), :].mean(axis=3), values[..., len(NEAR) :, :]
    return np.where(inside[..., None], np.median(far, axis=3) - near, 0.0)

"""Where one more piece may hang beside those that hang: its *normal* places.

A place is normal when the piece stands exactly one gap from a hung one that it faces, and along
the other axis either shares an edge or the centre line with it, or stands one gap from another.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.measures import LEAST_FACING, Floats
from visualiser.arrangement.setting import Centres

ALIGNED = np.array([[-1.0], [0.0], [1.0]])


HAIR = 1e-6


def normal_places(
    centres: Centres, half: Floats, own: Floats, gap_mm: float, least_mm: float
) -> Centres:
    """Give every normal place (C, 2) for one piece beside pieces that hang already.

    Parameters
    ----------
    centres, half
        (K, 2) centres and half sizes of what hangs.
    own
        (2,) half size of the new piece.
    gap_mm, least_mm
        Gap to stand at, and the least one to anything else.
    """
    count = len(centres)
    x, y = centres.T
    sum_x, sum_y = (half + own).T
    flush = half - own
    touch_x = np.stack([x - sum_x - gap_mm, x + sum_x + gap_mm])
    touch_y = np.stack([y - sum_y - gap_mm, y + sum_y + gap_mm])
    places = np.empty((12 * count + 4 * count * count, 2))
    for start, axis, touch in ((0, 0, touch_x), (6 * count, 1, touch_y)):
        block = places[start : start + 6 * count].reshape(2, 3, count, 2)
        block[..., axis] = touch[:, None]
        block[..., 1 - axis] = centres[:, 1 - axis] + ALIGNED * flush[:, 1 - axis]
    corners = places[12 * count :].reshape(2 * count, 2 * count, 2)
    corners[..., 0] = touch_x.reshape(-1, 1)
    corners[..., 1] = touch_y.reshape(1, -1)
    clear_x = np.abs(places[:, :1] - x) - sum_x
    clear_y = np.abs(places[:, 1:] - y) - sum_y
    face_x, face_y = (2 * LEAST_FACING * np.minimum(half, own)).T
    apart = np.maximum(clear_x, clear_y) >= least_mm - HAIR
    joined = ((np.abs(clear_x - gap_mm) < HAIR) & (clear_y < -face_y)) | (
        (np.abs(clear_y - gap_mm) < HAIR) & (clear_x < -face_x)
    )
    good = places[apart.all(axis=1) & joined.any(axis=1)]
    return np.asarray(good[first_of_each(good)]) if len(good) else good


def first_of_each(rows: Floats) -> NDArray[np.intp]:
    """Index of the first of places that agree to a hundredth."""
    step = np.round((rows - rows.min(axis=0)) * 100).astype(np.int64)
    _, first = np.unique(step[:, 0] * (1 << 31) + step[:, 1], return_index=True)
    return np.sort(first)


def clear_of(places: Centres, hosts: Centres, half: Floats, own: Floats, least: float) -> Centres:
    """Keep the different places that are far enough from everything."""
    if not len(places):
        return places
    places = places[first_of_each(places)]
    clear = np.abs(places[:, None] - hosts) - half - own
    return np.asarray(places[(clear.max(axis=2) >= least - HAIR).all(axis=1)])

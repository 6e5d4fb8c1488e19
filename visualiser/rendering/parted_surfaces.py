"""Which parts of one surface straight borders part from the rest, though the borders have gaps.

A door's edge is found in stretches: a lamp hides some of it, and some is too faint. So the surface
is cut where it is narrowest between borders, and two pieces stay apart if borders make up most of
the cut between them; where they make up little of it, the cut was none.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Labels = NDArray[np.int32]

_ON_BORDER_PX = 1.5
_MOSTLY = 0.7
"""Share of a cut that borders must make up."""
_WIDE_PX = 48.0
"""Surface this far from any border is one wide part of it."""


def parted_surfaces(surface: Mask, borders: Mask, home: Mask, least_px: float) -> Mask:
    """Find what borders part from a place on a surface.

    Parameters
    ----------
    surface
        (h, w) the surface.
    borders
        (h, w) borders found on it.
    home
        (h, w) the place.
    least_px
        Length of the least border that parts anything: what is parted by less lies between hung
        pictures, whose edges go on across it.

    Returns
    -------
    (h, w) parts of the surface that reach the place only across borders. What nothing but another
    thing parts from it, such as the wall beyond a lamp's pole, is not among them.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from skimage.segmentation import watershed

    none = np.zeros_like(surface)
    if not (surface & borders).any() or not (surface & home).any():
        return none
    away = cv2.distanceTransform((~borders).astype(np.uint8), cv2.DIST_L2, 3)
    # Each piece needs a lowest place of its own, within the surface.
    depth = np.where(surface, -np.round(np.minimum(away, _WIDE_PX) * 2), 1).astype(np.int32)
    pieces = np.asarray(watershed(depth, mask=surface), np.int32)  # type: ignore[no-untyped-call]
    count = int(pieces.max()) + 1
    on = away <= _ON_BORDER_PX
    total, bordered = coo_array((count, count)), coo_array((count, count))
    for turned in (False, True):
        at, line = (pieces.T, on.T) if turned else (pieces, on)
        a, b = at[:, 1:], at[:, :-1]
        touch = (a != b) & (a > 0) & (b > 0)
        pair = np.minimum(a, b)[touch], np.maximum(a, b)[touch]
        crossed = (line[:, 1:] | line[:, :-1])[touch].astype(float)
        total = total + coo_array((np.ones(len(crossed)), pair), shape=(count, count))
        bordered = bordered + coo_array((crossed, pair), shape=(count, count))
    joint, cut = total.tocoo(), bordered.tocsr()
    crossed = np.asarray(cut[joint.row, joint.col]).ravel()
    open_ = crossed < _MOSTLY * joint.data
    _, one = connected_components(
        coo_array((open_[open_], (joint.row[open_], joint.col[open_])), shape=(count, count)),
        directed=False,
    )
    _, reach = connected_components(total, directed=False)
    counted = np.bincount(pieces[home & surface], minlength=count)
    own = int(np.bincount(one, weights=counted).argmax())
    home_reach = reach[int(np.flatnonzero(one == own)[0])]
    left, right = one[joint.row], one[joint.col]
    apart = left != right
    length = np.zeros(count)
    for side in (left, right):
        length += np.bincount(side[apart], weights=crossed[apart], minlength=count)
    one = np.where(length[one] < least_px, own, one)
    parted = (one != own) & (reach == home_reach)
    parted[0] = False
    return np.asarray(parted[pieces])

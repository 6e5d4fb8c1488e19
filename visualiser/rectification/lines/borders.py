"""Which of the room's edges have the wall beside them.

A ceiling's edge, a skirting's, a door frame's and a corner's border the wall. A sofa's seat, a rug
and the boards of a floor are as long, and mostly run along the wall as well; but what stands before
a wall may stand askew to it, and then its many edges agree with one another, not with the wall.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.linear_light import LUMINANCE, decode_srgb
from visualiser.photo.photo import Photo
from visualiser.rectification.lines.detect import RoomLine
from visualiser.statistics import robust_sigma

Array = NDArray[np.float64]

NEAR_PX, FAR = 4.0, 0.012
"""The strip beside an edge that is looked at: from clear of its blur, to a share of the photo's
long side beyond."""
PLACES, ACROSS = 16, 5
"""Looks along an edge, and samples that are averaged in each."""
RING = (1.25, 1.7)
"""Wall around a reference, as multiples of its outline: clear of tape and of its shadow."""
LIGHT_FACTOR = 2.2
"""Light of one wall differs by this from the sheet to its ends."""
HUE_TOLERANCE = 0.12
"""Logarithm of red over green, and of blue over green, on one wall: what daylight on one end and
a lamp on the other change."""
SHARE = 0.5
"""An edge borders the wall when wall is beside this much of it, on one side."""
_DARK = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class _WallLook:
    """Logarithm of light and of two hues (3,), and how far they may differ (3,)."""

    middle: Array
    tolerance: Array

    def like(self, look: Array) -> NDArray[np.bool_]:
        """Which of some looks (..., 3) are wall."""
        return np.asarray((np.abs(look - self.middle) < self.tolerance).all(axis=-1))


def told_beside_wall(
    photo: Photo, lines: Sequence[RoomLine], outlines_px: Sequence[PointsPx]
) -> list[RoomLine]:
    """Say of each line whether wall lies beside it; lines that a person drew are taken as they are.

    Parameters
    ----------
    photo
        The photo.
    lines
        Lines found in it.
    outlines_px
        Corners (4, 2) of the references, that hang on the wall.
    """
    wall = _wall_look(photo, outlines_px)
    if wall is None:
        return list(lines)
    far_px = NEAR_PX + FAR * max(photo.width_px, photo.height_px)
    return [
        line
        if line.drawn is not None
        else replace(line, beside_wall=_borders(photo, line, wall, far_px))
        for line in lines
    ]


def _wall_look(photo: Photo, outlines_px: Sequence[PointsPx]) -> _WallLook | None:
    """How the wall looks around the references; None where too little of it is in view."""
    looks = []
    for outline in outlines_px:
        centre = np.mean(outline, axis=0)
        ends = np.roll(outline, -1, axis=0)
        t = np.linspace(0, 1, PLACES // 4, endpoint=False)[:, None]
        path = np.concatenate([a + t * (b - a) for a, b in zip(outline, ends, strict=True)])
        factors = np.linspace(*RING, ACROSS)
        grid = centre + factors[None, :, None] * (path - centre)[:, None]
        looks.append(_looks(photo, grid))
    seen = np.concatenate(looks) if looks else np.empty((0, 3))
    if len(seen) < PLACES // 4:
        return None
    middle = np.median(seen, axis=0)
    spread = robust_sigma(seen - middle, axis=0)
    allowed = np.array([np.log(LIGHT_FACTOR), HUE_TOLERANCE, HUE_TOLERANCE])
    return _WallLook(middle, allowed + 2 * spread)


def _borders(photo: Photo, line: RoomLine, wall: _WallLook, far_px: float) -> bool:
    """Whether wall lies along one side of a line."""
    picked = np.linspace(0, len(line.samples) - 1, PLACES).round().astype(int)
    points, normals = line.samples.points_px[picked], line.samples.normals_px[picked]
    for side in (-1, 1):
        offsets = side * np.linspace(NEAR_PX, far_px, ACROSS)
        grid = points[:, None] + offsets[None, :, None] * normals[:, None]
        if wall.like(_looks(photo, grid)).sum() >= SHARE * PLACES:
            return True
    return False


def _looks(photo: Photo, grid_px: Array) -> Array:
    """Light and hues (N, 3), as logarithms, of averages over (M, A, 2) places within the photo."""
    at = np.rint(grid_px).astype(int)
    at = at[((at >= 0) & (at < [photo.width_px, photo.height_px])).all(axis=(1, 2))]
    mean = decode_srgb(photo.pixels[at[..., 1], at[..., 0]]).mean(axis=1)
    mean = np.maximum(mean, _DARK)
    green = np.log(mean[:, 1])
    light = np.log(mean @ LUMINANCE)
    return np.asarray(np.c_[light, np.log(mean[:, 0]) - green, np.log(mean[:, 2]) - green])

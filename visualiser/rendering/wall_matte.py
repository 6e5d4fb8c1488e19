"""How a pixel at the wall's rim is shared between the wall and what stands before it.

A pixel of an edge mixes the light of both. The wall's is known nearly everywhere, since light
changes slowly over it; that of the thing is taken from its nearest pixels. Then the share is where
the pixel lies between the two (matting with a known background), which needs no system of equations
and keeps leaves and pole as sharp as the photo has them. Where both are of one colour nothing can
be measured, and the border that was found decides.

References
----------
A. R. Smith, J. F. Blinn, "Blue screen matting", SIGGRAPH 1996: solutions with a known backing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.photo.linear_light import LUMINANCE_32, LinearRgb, to_levels, to_linear
from visualiser.photo.photo import PixelsRgb
from visualiser.rendering.coarse_wall import carried_across
from visualiser.survey.light import at_pixels

_BAND_PX = 3
_REACH_PX = 12.0
_STRANGE_TONE, _STRANGE_TINT = 0.22, 0.12
_ODD_TINT, _ODD_TONE = 5.5, 14.0
"""8-bit levels against the wall's light: of the true wall beside things one in a hundred differs
by as much, of what was taken for it and is not more than half."""
_NOISE = 0.06
"""Contrast of wall and thing, as a logarithm, that counts half against the border found."""


class MatteRows(NamedTuple):
    """Rows of the full photo: the wall's share (H, W) and its own light (H, W, 3) there."""

    share: NDArray[np.float32]
    light: LinearRgb


@dataclass(frozen=True, slots=True, eq=False)
class WallMatte:
    """What is needed to share pixels, at reduced size.

    Parameters
    ----------
    prior
        (h, w) share as the border alone gives it, soft by a pixel.
    band
        (h, w) whether pixels are to be shared by their colour.
    wall_light, thing_light
        (h, w, 3) linear light of the wall and of what stands before it, each carried on to where
        the other is seen.
    """

    prior: NDArray[np.float32]
    band: NDArray[np.float32]
    wall_light: LinearRgb
    thing_light: LinearRgb

    def rows(self, pixels: PixelsRgb, top: int, step_px: float | None = None) -> MatteRows:
        """Share the pixels of rows of the photo that start at ``top``."""
        height, width = pixels.shape[:2]
        step = step_px or width / self.prior.shape[1]

        def wide(values: NDArray[np.float32]) -> NDArray[np.float32]:
            return at_pixels(values, step, 0, top, width, height)

        share, wall = wide(self.prior), wide(self.wall_light)
        at = wide(self.band) > 0.01
        if at.any():
            seen = to_linear(np.ascontiguousarray(pixels))[at]
            share[at] = _shared(seen, wall[at], wide(self.thing_light)[at], share[at])
        return MatteRows(share, wall)


def matte_wall(small: LinearRgb, expected: LinearRgb, wall: NDArray[np.bool_]) -> WallMatte:
    """Prepare the matte of a wall.

    Parameters
    ----------
    small
        (h, w, 3) linear light of the photo at reduced size.
    expected
        (h, w, 3) light of the bare wall as its smooth model has it.
    wall
        (h, w) what was found to be wall.
    """
    square = np.ones((2 * _BAND_PX + 1,) * 2, np.uint8)
    solid = wall.astype(np.uint8)
    inner, outer = cv2.erode(solid, square) > 0, cv2.dilate(solid, square) > 0
    calm = np.asarray(cv2.GaussianBlur(small, (0, 0), 0.7), np.float32)
    light = _wall_light(small, expected, inner if inner.any() else wall)
    wall = wall & ~_odd_beside_things(calm, light, wall)
    solid = wall.astype(np.uint8)
    inner, outer = cv2.erode(solid, square) > 0, cv2.dilate(solid, square) > 0
    ratio = np.log(np.maximum(calm, 1e-4) / np.maximum(light, 1e-4))
    tone = ratio @ LUMINANCE_32
    tint = np.abs(ratio - tone[..., None]).max(axis=2)
    strange = (np.abs(tone) > _STRANGE_TONE) | (tint > _STRANGE_TINT)
    # A shadow is strange too; only beside a thing may it be more of the thing.
    things = cv2.distanceTransform(solid, cv2.DIST_L2, 3) < _REACH_PX
    band = (outer & ~inner) | (wall & strange & things)
    weight = (~wall).astype(np.float32) * np.minimum(np.square(ratio).sum(axis=2) + 1e-3, 1)
    thing = carried_across(small, np.asarray(weight, np.float32), 1.0)
    prior = np.asarray(cv2.GaussianBlur(solid.astype(np.float32), (0, 0), 0.6), np.float32)
    return WallMatte(prior, band.astype(np.float32), light, thing)


def _odd_beside_things(
    calm: LinearRgb, light: LinearRgb, wall: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Find what of a wall is rather a thing's rim: of another tint than the wall, or lighter.

    A pole is as dark as its shadow; only its tint says which is which. It is compared in the
    picture's own levels, whose noise and coding are about even, and on a dark wall as well.
    """
    away = cv2.distanceTransform(wall.astype(np.uint8), cv2.DIST_L2, 3)
    off = to_levels(calm) - to_levels(light)
    tone = off @ LUMINANCE_32
    tint = np.abs(off - tone[..., None]).max(axis=2)
    return np.asarray(wall & (away < _REACH_PX) & ((tint > _ODD_TINT) | (tone > _ODD_TONE)))


def _wall_light(small: LinearRgb, expected: LinearRgb, sure: NDArray[np.bool_]) -> LinearRgb:
    """Light of the wall everywhere: the photo's own where it is seen, carried on elsewhere."""
    ratio = np.asarray(small / expected, np.float32)
    return np.asarray(expected * carried_across(ratio, sure.astype(np.float32), 2.0), np.float32)


def _shared(
    seen: LinearRgb, wall: LinearRgb, thing: LinearRgb, prior: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Share of the wall in pixels (N, 3) between its light and the thing's."""
    scale = 1 / np.maximum(wall, 0.004)
    apart, off = (wall - thing) * scale, (seen - thing) * scale
    contrast = np.square(apart).sum(axis=1)
    measured = np.clip((off * apart).sum(axis=1) / np.maximum(contrast, 1e-6), 0, 1)
    trust = contrast / (contrast + np.float32(_NOISE**2 * 3))
    return np.asarray(prior + trust * (measured - prior), np.float32)

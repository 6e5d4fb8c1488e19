"""Which regions beside a wall's main surface are wall too, and which may be."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.photo.linear_light import LUMINANCE_32, LinearRgb
from visualiser.rendering.surface_regions import RegionTree

Mask = NDArray[np.bool_]

LIKE_TONE, LIKE_TINT = 0.3, 0.09
"""Logarithm of light against the light expected, of what may be wall."""
WORTH_A_TAP = 0.002
"""Share of the photo: about smaller regions nobody is asked."""
_SAME_TONE, _SAME_TINT = 0.13, 0.045
"""The same, of the wall itself."""
_SHADE_TINT, _DEEPEST = 0.06, 0.7
"""Shadow is of another lamp's colour, the more so the deeper it is."""
_FAINT = 1.8
"""A border fainter than this many times the wall's own is unevenness, or a shadow's."""
_WITHIN = 0.1
"""A region with so much of the main surface is that surface, and what borders part from it."""
_LINE_PX, _THING_SHARE = 4, 0.25
"""What a line of 4 px parts from the wall along a quarter of its rim is a thing."""
_SPECK = 0.0004
"""Share of the photo: smaller regions are left to the matte."""


@dataclass(frozen=True, slots=True, eq=False)
class WallView:
    """What is seen at reduced size, and what is known of it.

    Parameters
    ----------
    seen
        (h, w, 3) linear light.
    wall
        (h, w, 3) light of the bare wall, carried on behind what stands before it.
    height_mm
        (h, w) how far up the wall's plane each element is.
    floor_mm
        Where the floor is; minus infinity where that is not known.
    """

    seen: LinearRgb
    wall: LinearRgb
    height_mm: NDArray[np.float64]
    floor_mm: float


def tone_and_tint(
    ratio: NDArray[np.floating],
) -> tuple[NDArray[np.floating], NDArray[np.floating]]:
    """Split logarithms of light over the wall's (..., 3): by how much it is lighter, and tinted."""
    tone = ratio @ LUMINANCE_32
    return tone, np.abs(ratio - tone[..., None]).max(axis=-1)


def further_parts(
    tree: RegionTree, strength: float, main: Mask, view: WallView
) -> tuple[Mask, Mask]:
    """Add what has the wall's light beside its main surface; list what may be wall.

    Parameters
    ----------
    tree
        Regions of the picture.
    strength
        Border at which the main surface ends.
    main
        (h, w) that surface.
    view
        What is seen.

    Returns
    -------
    (h, w) wall, and (h, w) what may be wall.
    """
    if not main.any():
        return np.zeros_like(main), np.zeros_like(main)
    names, index = np.unique(tree.regions(strength), return_inverse=True)
    index = index.ravel()
    regions = index.reshape(main.shape)
    area = np.bincount(index, minlength=len(names)).astype(float)

    def mean(values: NDArray[np.generic]) -> NDArray[np.float64]:
        return np.asarray(np.bincount(index, weights=values.ravel(), minlength=len(names)) / area)

    ratio = np.log(np.maximum(view.seen, 1e-4) / np.maximum(view.wall, 1e-4))
    means = np.stack([mean(ratio[..., k]) for k in range(3)], axis=1)
    tone, tint = tone_and_tint(means)
    within = mean(main) > _WITHIN
    high = np.percentile(view.height_mm[main], 99.5)
    level = (mean(view.height_mm > high) < 0.5) & (mean(view.height_mm < view.floor_mm) < 0.5)
    edge = cv2.morphologyEx(regions.astype(np.float32), cv2.MORPH_GRADIENT, np.ones((3, 3))) > 0
    near = cv2.dilate(main.astype(np.uint8), np.ones((2 * _LINE_PX + 1,) * 2, np.uint8)) > 0
    rim = np.maximum(np.bincount(regions[edge], minlength=len(names)), 1)
    contact = np.bincount(regions[edge & near], minlength=len(names)) / rim
    home = int(np.bincount(tree.patches[main]).argmax())
    beyond = np.full(len(names), np.inf)
    np.minimum.at(beyond, index, tree.barrier(home)[tree.patches.ravel()] / strength)

    speck = area < _SPECK * main.size
    shade = _SAME_TINT + _SHADE_TINT * np.maximum(-tone, 0)
    same = (tone < _SAME_TONE) & (tone > -_SAME_TONE) & (tint < _SAME_TINT)
    shaded = (tone < _SAME_TONE) & (tone > -_DEEPEST) & (tint < shade)
    like = (np.abs(tone) < LIKE_TONE) & (tint < LIKE_TINT)
    apart = same & ~speck & (contact < _THING_SHARE)
    uneven = shaded & (beyond < _FAINT)
    part = ~within & level & (apart | uneven | (speck & same & (contact > 0)))
    # What a border parts from the main surface is of one region with it, and stays out.
    wall = main | part[regions]
    unsure = (like & level & ~part & (area > WORTH_A_TAP * main.size))[regions] & ~wall
    return wall, unsure

"""Which regions beside a wall's main surface are wall too, and which may be."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.photo.linear_light import LUMINANCE_32, LinearRgb, to_levels
from visualiser.rendering.surface_regions import Labels, RegionTree

Mask = NDArray[np.bool_]

LIKE_TONE, LIKE_TINT = 0.3, 0.09
"""Logarithm of light against the light expected, of what may be wall."""
_LIKE_LEVELS = 6.0
"""8-bit levels by which a region's hue may be off at its own light, of what may be wall."""
WORTH_A_TAP = 0.002
"""Share of the photo: about smaller regions nobody is asked."""
_SAME_TONE, _SAME_LEVELS = 0.13, 3.0
"""The same, of the wall itself."""
_SHADE_LEVELS, _DEEPEST = 4.0, 0.7
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


def strange_parts(
    tree: RegionTree, strength: float, main: Mask, seen: LinearRgb, expected: LinearRgb
) -> Mask:
    """Find parts of a main surface that no light makes of its wall: far darker, and of another hue.

    A cushion joins the wall where its edge is blurred into it. ``strength`` is the border at which
    parts are told apart, ``expected`` (h, w, 3) the light of the bare wall by its smooth model.
    """
    if not main.any():
        return np.zeros_like(main)
    _, index = np.unique(tree.regions(strength), return_inverse=True)
    regions: Labels = np.where(main, index.reshape(main.shape) + 1, 0).astype(np.int32)
    means = (_inner_means(v, regions, main) for v in (seen, expected))
    tone, off = _as_shade(*means)
    strange = (tone < -_DEEPEST) & (off > _LIKE_LEVELS)
    strange[0] = False
    return np.asarray(strange[regions])


def _inner_means(light: LinearRgb, regions: Labels, inner: Mask) -> NDArray[np.float64]:
    """Mean light (N, 3) of regions: their rims are mixed, and count where there is nothing else."""
    weight, at = np.where(inner, 1.0, 1e-3).ravel(), regions.ravel()
    total = np.maximum(np.bincount(at, weights=weight), 1e-9)
    sums = [np.bincount(at, weights=weight * light[..., k].ravel()) for k in range(3)]
    return np.asarray(np.stack(sums, axis=1) / total[:, None], np.float64)


def _as_shade(
    seen: NDArray[np.float64], wall: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Take regions (N, 3) for the wall in more or less light: how much, and what is then left.

    Returns
    -------
    Logarithm of the light against the wall's (N,), and by how many 8-bit levels the hue is off at
    that light (N,). A camera's noise is about even in levels; in logarithms a dark wall's would
    hide whether the hue is the wall's.
    """
    share = np.maximum(seen @ LUMINANCE_32, 1e-4) / np.maximum(wall @ LUMINANCE_32, 1e-4)
    shaded = np.asarray(wall * share[:, None], np.float32)
    off = to_levels(np.asarray(seen, np.float32)) - to_levels(shaded)
    off -= (off @ LUMINANCE_32)[:, None]
    return np.log(share), np.asarray(np.abs(off).max(axis=1), np.float64)


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
    regions: Labels = index.reshape(main.shape).astype(np.int32)
    area = np.bincount(index, minlength=len(names)).astype(float)

    def mean(values: NDArray[np.generic]) -> NDArray[np.float64]:
        return np.asarray(np.bincount(index, weights=values.ravel(), minlength=len(names)) / area)

    edge = cv2.morphologyEx(regions.astype(np.float32), cv2.MORPH_GRADIENT, np.ones((3, 3))) > 0
    seen, wall_light = (_inner_means(v, regions, ~edge) for v in (view.seen, view.wall))
    tone, off = _as_shade(seen, wall_light)
    within = mean(main) > _WITHIN
    high = np.percentile(view.height_mm[main], 99.5)
    level = (mean(view.height_mm > high) < 0.5) & (mean(view.height_mm < view.floor_mm) < 0.5)
    near = cv2.dilate(main.astype(np.uint8), np.ones((2 * _LINE_PX + 1,) * 2, np.uint8)) > 0
    rim = np.maximum(np.bincount(regions[edge], minlength=len(names)), 1)
    contact = np.bincount(regions[edge & near], minlength=len(names)) / rim
    home = int(np.bincount(tree.patches[main]).argmax())
    beyond = np.full(len(names), np.inf)
    np.minimum.at(beyond, index, tree.barrier(home)[tree.patches.ravel()] / strength)

    speck = area < _SPECK * main.size
    shade = _SAME_LEVELS + _SHADE_LEVELS * np.maximum(-tone, 0)
    same = (np.abs(tone) < _SAME_TONE) & (off < _SAME_LEVELS)
    shaded = (tone < _SAME_TONE) & (tone > -_DEEPEST) & (off < shade)
    like = (np.abs(tone) < LIKE_TONE) & (off < _LIKE_LEVELS)
    # Between leaves wall lies in their shadow.
    apart = shaded & (off < _SAME_LEVELS) & ~speck & (contact < _THING_SHARE)
    uneven = shaded & (beyond < _FAINT)
    part = ~within & level & (apart | uneven | (speck & same & (contact > 0)))
    # What a border parts from the main surface is of one region with it, and stays out.
    wall = main | part[regions]
    unsure = (like & level & ~part & (area > WORTH_A_TAP * main.size))[regions] & ~wall
    return wall, unsure

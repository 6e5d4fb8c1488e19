"""Where one more piece may hang beside those that hang: its *normal* places.

A place is normal when the piece stands exactly one gap from a hung one that it faces, and along
the other axis either shares an edge or the centre line with it, or stands one gap from another.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.neighbours import LEAST_FACING, Floats
from visualiser.arrangement.setting import Centres

HAIR = 1e-6
WORD = 52
"""Pieces whose yes or no one number holds exactly."""


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
    _, (x, y) = normal_places_of_each(centres[None], half[None], own[None], gap_mm, least_mm)
    good = np.column_stack([x, y])
    return np.asarray(good[first_of_each(good)]) if len(good) else good


def normal_places_of_each(
    centres: Centres, half: Floats, own: Floats, gap_mm: float, least_mm: float
) -> tuple[NDArray[np.intp], Floats]:
    """Give the normal places for one piece in each of many groups, the same ones maybe twice.

    Parameters
    ----------
    centres, half
        (P, K, 2) centres and half sizes of what hangs in each group.
    own
        (P, 2) half size of each group's new piece.
    gap_mm, least_mm
        Gap to stand at, and the least one to anything else.

    Returns
    -------
    The group (C,) that each place is for, in rising order, and x and y of the places (2, C).

    Notes
    -----
    A place is a stop across and a stop upright. Whether a stop keeps clear of a piece, faces it
    or stands one gap from it is asked of the stops alone, and held in one bit for each piece, so
    that a place takes a few operations on whole numbers however many pieces hang.
    """
    across, upright = crossings(centres.shape[1])
    # By axis, and stops last: numpy is slow where the last axis is short.
    stops, hung, sides, own_sides = (
        np.ascontiguousarray(np.moveaxis(x, -1, 0))
        for x in (stops_beside(centres, half, own, gap_mm), centres, half, own)
    )
    clear = np.abs(stops[:, :, None] - hung[..., None]) - (sides + own_sides[..., None])[..., None]
    facing = -(2 * LEAST_FACING * np.minimum(sides, own_sides[..., None]))[..., None]
    words = [slice(k, k + WORD) for k in range(0, clear.shape[2], WORD)]
    apart = np.ones((len(centres), len(across)), np.bool_)
    for word in words:
        some = clear[:, :, word]
        free, every = _bits(some >= least_mm - HAIR), (1 << some.shape[2]) - 1
        apart &= (free[0][:, across] | free[1][:, upright]) == every
    group, place = np.nonzero(apart)
    x, y = across[place], upright[place]
    joined = np.zeros(len(group), np.bool_)
    for word in words:
        some = clear[:, :, word]
        touch = _bits(np.abs(some - gap_mm) < HAIR)
        face = _bits(some < facing[:, :, word])
        joined |= (touch[0][group, x] & face[1][group, y]) != 0
        joined |= (touch[1][group, y] & face[0][group, x]) != 0
    group, x, y = group[joined], x[joined], y[joined]
    return group, np.stack([stops[0][group, x], stops[1][group, y]])


def _bits(yes: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Answers (..., K, S) about pieces as whole numbers (..., S)."""
    return np.asarray((2.0 ** np.arange(yes.shape[-2]) @ yes.astype(np.float64)).astype(np.int64))


def stops_beside(centres: Centres, half: Floats, own: Floats, gap_mm: float) -> Floats:
    """Where a piece of half size (..., 2) may stop along each axis beside groups (..., K, 2).

    Returns
    -------
    (..., 5 K, 2): one gap before each piece, one gap after; flush with its near side, centred on
    it, flush with its far side.
    """
    away = half + own[..., None, :] + gap_mm
    shift = half - own[..., None, :]
    blocks = (centres - away, centres + away, centres - shift, centres, centres + shift)
    return np.concatenate(blocks, axis=-2)


@lru_cache(maxsize=64)
def crossings(count: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Which stops across and upright go together beside ``count`` pieces.

    One gap from a piece across and aligned with it; aligned with it and one gap from it upright;
    one gap from any piece across and from any upright.
    """
    touch = np.arange(2 * count)
    aligned = [2 * count + side * count + touch % count for side in range(3)]
    both = np.meshgrid(touch, touch, indexing="ij")
    return (
        np.concatenate([touch, touch, touch, *aligned, both[0].ravel()]),
        np.concatenate([*aligned, touch, touch, touch, both[1].ravel()]),
    )


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

"""Regions of one surface in a photo: the order in which neighbouring patches merge.

Patches that touch are of one surface if colour goes on across their border. One pixel pair is
hardly above the noise there; the mean over a whole border is, even where white meets white. So
borders are measured as a whole, the faintest is dissolved first, and what two patches had with a
third becomes one longer border.

References
----------
P. Arbelaez, M. Maire, C. Fowlkes, J. Malik, "Contour detection and hierarchical image
segmentation", IEEE TPAMI 33(5), 2011: borders' mean contrast as an ultrametric map.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.photo.linear_light import LinearRgb, opponent_levels
from visualiser.statistics import MAD_TO_SIGMA

Labels = NDArray[np.int32]

_SLOW_SHARE = 0.015
"""What changes over more than this share of the long side is light, not an edge."""
_LEAST_NOISE = np.array([0.5, 1.3, 1.3], np.float32)
"""In 8-bit levels, of tone and two tints: coding alone leaves so much."""
_BINS = 4.0
"""Steps of the flooding per e-fold of gradient; coarser ones give fewer patches."""
_LINE_HEIGHT = 12
"""Steps by which a straight edge stands above its gradient. Ours."""
_ONE_WAY_PX = 60.0
"""Over longer borders a step may turn round: a white vase is lighter than the wall on its lit
side, and darker on the other."""
_ON_LINE = 6.0
"""Strength that a straight edge adds, in standard deviations of the noise. Ours."""
_SHORT_PX, _SMALL_PX = 10.0, 30.0
"""Means over shorter borders, and of smaller patches, count for less: they differ by chance."""
_FIRST, _LAST, _STEP = 0.4, 60.0, 1.12


@dataclass(frozen=True, slots=True, eq=False)
class RegionTree:
    """Patches of a picture, and how they merge as ever stronger borders are dissolved.

    Parameters
    ----------
    patches
        (h, w) number of each pixel's patch, from 0.
    levels
        (K,) border strength dissolved, in standard deviations of the noise, rising.
    merged
        (K, N) number of the region that each patch belongs to at each level.
    """

    patches: Labels
    levels: NDArray[np.float64]
    merged: Labels

    def regions(self, strength: float) -> Labels:
        """Regions (h, w) between borders stronger than this."""
        return np.asarray(self._at(strength)[self.patches], np.int32)

    def barrier(self, patch: int) -> NDArray[np.float64]:
        """Strength (N,) of the border at which each patch joins a given one; inf for never."""
        joined = self.merged == self.merged[:, patch, None]
        first = joined.argmax(axis=0)
        return np.where(joined.any(axis=0), self.levels[first], np.inf)

    def _at(self, strength: float) -> Labels:
        index = int(np.searchsorted(self.levels, strength, side="right")) - 1
        if index < 0:
            return np.arange(self.merged.shape[1], dtype=np.int32)
        return np.asarray(self.merged[index], np.int32)


class _Borders(NamedTuple):
    """Pairs of regions that touch.

    ``low`` and ``high`` (B,) are their numbers, ``sums`` (B, 7) those of signed steps, of ridges
    and of pixels on a straight edge, ``lengths`` (B,) in pixels. ``energy`` (B, 2) is the length
    times the mean square of steps, and of ridges, each a mean over a stretch that is so short that
    it has one sign.
    """

    low: Labels
    high: Labels
    sums: NDArray[np.float64]
    lengths: NDArray[np.float64]
    energy: NDArray[np.float64]


def merge_surfaces(
    linear: LinearRgb, calm: NDArray[np.bool_], lines: NDArray[np.bool_]
) -> RegionTree:
    """Build the tree of a picture.

    Parameters
    ----------
    linear
        (h, w, 3) linear light.
    calm
        (h, w) pixels of one surface, to measure the noise on.
    lines
        (h, w) straight edges that are known: what lies on them is a stronger border.
    """
    # Loaded when a wall is looked at: they take longer to load than most commands to run.
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    seen = _relative_colour(linear, calm)
    patches = _patches(seen, lines)
    steps = int(np.log(_LAST / _FIRST) / np.log(_STEP)) + 1
    levels = np.asarray(_FIRST * _STEP ** np.arange(steps), np.float64)
    near = cv2.dilate(lines.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    low, high, sums, lengths, energy = _borders(patches, seen, near)
    count = int(patches.max()) + 1
    area = np.bincount(patches.ravel(), minlength=count).astype(float)
    now = np.arange(count, dtype=np.int32)
    merged = np.empty((len(levels), count), np.int32)
    for k, level in enumerate(levels):
        while len(low):
            cost = _strength(energy, sums[:, 6], lengths, np.minimum(area[low], area[high]))
            join = _weakest(low, high, cost, len(area)) & (cost <= level)
            if not join.any():
                break
            pairs = coo_array((join[join], (low[join], high[join])), shape=(len(area),) * 2)
            left, into = connected_components(pairs, directed=False)
            area = np.bincount(into, weights=area, minlength=left)
            now = np.asarray(into[now], np.int32)
            low, high, sums, lengths, energy = _rejoined(
                into[low], into[high], sums, lengths, energy, left
            )
        merged[k] = now
    return RegionTree(patches, levels, merged)


def _relative_colour(linear: LinearRgb, calm: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Tone and two tints (h, w, 3) against their surroundings, in standard deviations of noise."""
    seen = opponent_levels(linear)
    fine = np.abs(seen - cv2.GaussianBlur(seen, (0, 0), 2.0))
    where = calm if calm.sum() > 50 else np.ones_like(calm)
    noise = MAD_TO_SIGMA * np.median(fine[where], axis=0)
    # A steady slope is its own local mean: only what bends or steps is left.
    seen -= cv2.GaussianBlur(seen, (0, 0), _SLOW_SHARE * max(seen.shape))
    return np.asarray(seen / np.maximum(noise, _LEAST_NOISE).astype(np.float32), np.float32)


def _patches(seen: NDArray[np.float32], lines: NDArray[np.bool_]) -> Labels:
    from skimage.segmentation import watershed

    calm = cv2.GaussianBlur(seen, (0, 0), 1.2)
    across, down = cv2.Sobel(calm, cv2.CV_32F, 1, 0), cv2.Sobel(calm, cv2.CV_32F, 0, 1)
    gradient = np.sqrt((across * across + down * down).sum(axis=2)) / 8
    floor = 0.5 * float(np.median(gradient)) + 1e-6
    height = np.round(np.log(np.maximum(gradient, floor)) * _BINS).astype(np.int32)
    # A known edge parts patches, however faint it is.
    height[lines] += _LINE_HEIGHT
    return np.asarray(watershed(height), np.int32) - 1  # type: ignore[no-untyped-call]


def _borders(patches: Labels, seen: NDArray[np.float32], lines: NDArray[np.bool_]) -> _Borders:
    """List pairs of patches that touch: sums of steps and of ridges along each, and its length."""
    calm = cv2.GaussianBlur(seen, (0, 0), 0.7)
    rows = []
    for turned in (False, True):
        at = patches.T if turned else patches
        values = calm.transpose(1, 0, 2) if turned else calm
        line = lines.T if turned else lines
        y, x = np.nonzero(at[:, 1:] != at[:, :-1])
        near = [values[y, np.clip(x + k, 0, at.shape[1] - 1)] for k in range(-2, 4)]
        before, after = (near[0] + near[1]) / 2, (near[4] + near[5]) / 2
        ridge = (near[2] + near[3]) / 2 - (before + after) / 2
        a, b = at[y, x], at[y, x + 1]
        step = np.where((a < b)[:, None], after - before, before - after)
        rows.append((np.minimum(a, b), np.maximum(a, b), np.c_[step, ridge, line[y, x]]))
    low, high, sums = (np.concatenate(parts) for parts in zip(*rows, strict=True))
    one, none = np.ones(len(low)), np.zeros((len(low), 2))
    return _rejoined(low, high, sums, one, none, int(patches.max()) + 1)


def _rejoined(
    low: Labels,
    high: Labels,
    sums: NDArray[np.float64],
    lengths: NDArray[np.float64],
    energy: NDArray[np.float64],
    count: int,
) -> _Borders:
    """Add up what pairs of regions have in common; pairs within one region go."""
    kept = low != high
    low, high, sums, lengths, energy = (v[kept] for v in (low, high, sums, lengths, energy))
    # A step counts from the lower number to the higher; a ridge has no direction.
    turned = np.where(low < high, 1.0, -1.0)[:, None]
    sums = np.c_[sums[:, :3] * turned, sums[:, 3:]]
    key = np.minimum(low, high).astype(np.int64) * count + np.maximum(low, high)
    pairs, index = np.unique(key, return_inverse=True)
    size = len(pairs)
    added = [np.bincount(index, weights=column, minlength=size) for column in sums.T]
    total = np.asarray(np.bincount(index, weights=lengths, minlength=size), np.float64)
    whole = np.asarray(np.stack(added, axis=1) if size else np.zeros((0, 7)), np.float64)
    parts = [np.bincount(index, weights=column, minlength=size) for column in energy.T]
    squares = np.square(whole[:, :6]).reshape(-1, 2, 3).sum(axis=2) / np.maximum(total, 1)[:, None]
    short = total < _ONE_WAY_PX
    kept_energy = np.maximum(np.stack(parts, axis=1) if size else squares, squares)
    energies = np.where(short[:, None], squares, kept_energy)
    first, second = (pairs // count).astype(np.int32), (pairs % count).astype(np.int32)
    return _Borders(first, second, whole, total, energies)


def _strength(
    energy: NDArray[np.float64],
    lined: NDArray[np.float64],
    lengths: NDArray[np.float64],
    areas: NDArray[np.float64],
) -> NDArray[np.float64]:
    mean = np.sqrt(energy.max(axis=1, initial=0.0) / lengths) + _ON_LINE * lined / lengths
    return np.asarray(
        mean * np.sqrt(lengths / (lengths + _SHORT_PX)) * np.sqrt(areas / (areas + _SMALL_PX))
    )


def _weakest(low: Labels, high: Labels, cost: NDArray[np.float64], count: int) -> NDArray[np.bool_]:
    """Choose the pairs that are the weakest border of either region."""
    best = np.full(count, np.inf)
    np.minimum.at(best, low, cost)
    np.minimum.at(best, high, cost)
    return np.asarray((best[low] == cost) | (best[high] == cost))

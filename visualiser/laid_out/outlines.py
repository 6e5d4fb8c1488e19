"""Outlines of pieces among the rectangles of a top view: features, one fitted model, the choice.

A piece's outline is a rectangle whose sides are supported along their whole length, with a rail of
one colour within and floor or wall without. A network with one hidden layer of 14 weighs these
features; tests/training/laid_out_outlines.py fits it to drawn floors (seeds 0 to 31, 1600 px).
"""

from __future__ import annotations

from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.laid_out.rectangles import rectangles
from visualiser.laid_out.segments import Corners, find_corners, find_segments
from visualiser.laid_out.support import EdgeField, widened
from visualiser.laid_out.top_view import TopView
from visualiser.rectification.quadrilaterals import is_convex, side_lengths, signed_area

Array = NDArray[np.float64]

SMALLEST_MM, LARGEST_MM = 90.0, 1500.0
"""Outside sizes of framed pieces that are looked for."""
SUPPORTED = 0.38
"""Support that the weakest side of a rectangle must have to be looked at further."""
SAME = 2.5
"""Rectangles whose corners differ by less, in samples, are one."""
MOST_KEPT, MOST_WIDENED = 500, 220
RUNS_ON_WORTH = 2.0
"""How much support, of two at most, edges lose that run on in full."""
WIDEN_TO_MM = 75.0
"""How far out from one rectangle of a piece the next is looked for: a wide moulding and side."""
UNEVEN_MM = 34.0
"""How much further out one side may lie than another: a deep frame's side face."""
PEAKS = 3
BEYOND_MM = (8.0, 60.0)
"""How far beyond a corner it is looked at whether an edge runs on: clear of its own blur, and less
than from piece to piece."""
BINS = 24
"""Bins of each Lab channel in the histogram of the floor's colours."""


def square_corners(view: TopView, field: EdgeField) -> Corners:
    """Find the square corners that a top view's straight segments make."""
    return find_corners(find_segments(field.lab.astype(np.uint8), view.inside))


def candidate_outlines(
    view: TopView, field: EdgeField, corners: Corners | None = None
) -> tuple[Array, Array]:
    """Rectangles (R, 4, 2) that edges support, and the support of their sides' bins (R, 4, 8)."""
    corners = square_corners(view, field) if corners is None else corners
    quads = rectangles(corners, SMALLEST_MM / view.step_mm, LARGEST_MM / view.step_mm)
    bins = np.asarray(field.sides(quads), float)
    quads, bins = _best_of_alike(quads, bins, field, view.step_mm)
    wider = _next_further_out(quads, field, view.step_mm)
    if len(wider):
        quads = np.concatenate([quads, wider])
        bins = np.concatenate([bins, np.asarray(field.sides(wider), float)])
        quads, bins = _best_of_alike(quads, bins, field, view.step_mm)
    return quads, bins


def _best_of_alike(
    quads: Array, bins: Array, field: EdgeField, step_mm: float
) -> tuple[Array, Array]:
    """Keep supported rectangles, of those alike the best supported.

    Those whose edges run on beyond their corners come last: any two joints of a tiled floor and
    any other two across form one, hundreds of them.
    """
    weakest = bins.mean(axis=2).min(axis=1) if len(quads) else np.empty(0)
    seen = weakest > SUPPORTED
    quads, bins, weakest = quads[seen], bins[seen], weakest[seen]
    if not len(quads):
        return quads, bins
    runs_on = np.asarray(field.beyond(quads, *(v / step_mm for v in BEYOND_MM)).mean(axis=(1, 2)))
    worth = weakest + bins.mean(axis=(1, 2)) - RUNS_ON_WORTH * runs_on
    order = np.argsort(-worth, kind="stable")[: 4 * MOST_KEPT]
    flat = quads[order].reshape(len(order), 8)
    free = np.ones(len(order), bool)
    kept = []
    for k in range(len(order)):
        if not free[k]:
            continue
        kept.append(order[k])
        free[k:] &= np.abs(flat[k:] - flat[k]).max(axis=1) > SAME
        if len(kept) >= MOST_KEPT:
            break
    best = np.array(kept, int)
    return quads[best], bins[best]


def _next_further_out(quads: Array, field: EdgeField, step_mm: float) -> Array:
    """Rectangles around rectangles, each side moved out to a further edge.

    Where texture breaks up the outline's segments, its lip or mat is still found.
    """
    if not len(quads):
        return quads
    quads = quads[:MOST_WIDENED]
    offsets = np.arange(4.0, WIDEN_TO_MM / step_mm)
    profile = np.stack(
        [
            field.sides(widened(quads, np.full((len(quads), 4), o)), points=24, shifts=(0.0,)).mean(
                axis=2
            )
            for o in offsets
        ],
        axis=2,
    )
    peak = profile.copy()
    peak[:, :, 1:] *= profile[:, :, 1:] >= profile[:, :, :-1]
    peak[:, :, :-1] *= profile[:, :, :-1] > profile[:, :, 1:]
    peak[peak < SUPPORTED] = 0
    found, shifts = [], []
    for quad, sides in zip(quads, peak, strict=True):
        places = [np.argsort(-side)[:PEAKS] for side in sides]
        choices = [place[side[place] > 0] for place, side in zip(places, sides, strict=True)]
        if any(len(c) == 0 for c in choices):
            continue
        combos = np.array(list(product(*choices)))
        weakest = np.min([sides[k][combos[:, k]] for k in range(4)], axis=0)
        out = offsets[combos]
        fits = np.ptp(out, axis=1) < UNEVEN_MM / step_mm
        best = np.flatnonzero(fits)[np.argsort(-weakest[fits])[:4]]
        found += [quad] * len(best)
        shifts += list(out[best])
    if not found:
        return np.empty((0, 4, 2))
    wide = widened(np.array(found), np.array(shifts))
    return wide[is_convex(wide)]


class Ground:
    """How likely each colour of a top view is the floor's: log density (H, W)."""

    def __init__(self, view: TopView, lab: NDArray[np.uint8], around_px: Array) -> None:
        """Take for floor what fills most of the view, its rim, and what surrounds the reference."""
        cells = (lab.astype(np.int32) * BINS) // 256
        index = (cells[..., 0] * BINS + cells[..., 1]) * BINS + cells[..., 2]
        rim = view.inside & (cv2.erode(view.inside.astype(np.uint8), np.ones((61, 61))) == 0)
        ring = np.zeros(view.inside.shape, np.uint8)
        cv2.fillPoly(ring, [np.rint(around_px).astype(np.int32)], 1)
        grown = cv2.dilate(ring, np.ones((51, 51)))
        grown[cv2.dilate(ring, np.ones((9, 9))) > 0] = 0
        count = np.zeros(BINS**3)
        for where, weight in ((view.inside, 1.0), (rim, 2.0), (grown > 0, 6.0)):
            count += weight * np.bincount(index[where], minlength=BINS**3)
        from scipy.ndimage import gaussian_filter

        density = gaussian_filter(count.reshape(BINS, BINS, BINS), 0.6)
        density /= density.max()
        self.image = np.log(density + 1e-4).ravel()[index].astype(np.float32)[..., None]
        self.field = self.image


NAMES = (
    "weakest side", "support", "weakest bin", "weak bins", "uneven within", "rails differ",
    "contrast", "floor without", "floor without, least", "floor within", "nested within",
    "nested without", "size", "aspect", "grid within", "floor inside", "floor inside, most",
    "runs on", "runs on, most",
)  # fmt: skip


def features(quads: Array, bins: Array, field: EdgeField, ground: Ground, step_mm: float) -> Array:
    """Features (R, F) of rectangles, in the order of `NAMES`."""
    count = len(quads)
    support = bins.mean(axis=2)
    flat = np.sort(bins.reshape(count, -1), axis=1)
    inner, outer = field.strips(quads, -6 / step_mm), field.strips(quads, 9 / step_mm)
    medians = np.median(inner, axis=2)
    uneven = np.abs(inner - medians[:, :, None]).mean(axis=(2, 3))
    across = np.abs(medians[:, :, None] - medians[:, None]).sum(axis=-1).max(axis=(1, 2))
    contrast = np.abs(medians - np.median(outer, axis=2)).sum(axis=-1).min(axis=1)
    without = floor_beside(ground, quads, 9 / step_mm)
    within = floor_beside(ground, quads, -6 / step_mm)
    inside = _ground_inside(ground, quads)
    beyond = np.sort(
        field.beyond(quads, *(v / step_mm for v in BEYOND_MM)).reshape(count, 8), axis=1
    )
    nested, surrounded, holds = _nesting(quads, support.min(axis=1), step_mm)
    lengths = side_lengths(quads) * step_mm
    sides = np.sort((lengths[:, :2] + lengths[:, 2:]) / 2, axis=1)
    return np.stack(
        [
            support.min(axis=1),
            support.mean(axis=1),
            flat[:, 0],
            flat[:, :8].mean(axis=1),
            np.log(uneven.mean(axis=1) + 1),
            np.log(across + 2),
            np.log(contrast + 2),
            without.mean(axis=1),
            without.min(axis=1),
            within.mean(axis=1),
            nested,
            surrounded,
            np.log(np.sqrt(sides.prod(axis=1)) / 300),
            np.log(sides[:, 1] / sides[:, 0]),
            holds,
            inside.mean(axis=1),
            np.partition(inside, inside.shape[1] // 5, axis=1)[:, inside.shape[1] // 5],
            beyond.mean(axis=1),
            beyond[:, 4:].mean(axis=1),
        ],
        axis=1,
    )


def floor_beside(ground: Ground, quads: Array, outward: float) -> Array:
    """Log density (R, 4) of the floor's colours along sides, so many samples further out."""
    from visualiser.rectification.quadrilaterals import outward_normals, side_runs

    t = (np.arange(24) + 0.5) / 24
    points = quads[:, :, None] + t[:, None] * side_runs(quads)[:, :, None]
    points = points + outward * outward_normals(quads)[:, :, None]
    return np.asarray(EdgeField.look_up(ground.image, points)[..., 0].mean(axis=2))


def _ground_inside(ground: Ground, quads: Array) -> Array:
    """Log density of the floor's colours at a grid of places within rectangles, (R, 144)."""
    t = (np.arange(12) + 0.5) / 12
    u, v = (w.ravel() for w in np.meshgrid(t, t))
    across, down = quads[:, 1] - quads[:, 0], quads[:, 3] - quads[:, 0]
    points = quads[:, :1] + u[:, None] * across[:, None] + v[:, None] * down[:, None]
    return np.asarray(EdgeField.look_up(ground.image, points)[..., 0])


def _nesting(quads: Array, support: Array, step_mm: float) -> tuple[Array, Array, Array]:
    """Best support of a rectangle within, of one closely without, and how many lie apart within."""
    from visualiser.rectification.quadrilaterals import outward_normals

    normal = outward_normals(quads)
    reach = (normal * quads).sum(axis=2)
    centre = quads.mean(axis=1)
    # How far within each side of i the corners of j lie: (R, R, 4).
    far = np.einsum("isk,jck->ijsc", normal, quads).max(axis=3)
    margin = (reach[:, None] - far) * step_mm
    inside = (margin > 5).all(axis=2)
    close = inside & (margin.max(axis=2) < 60) & (np.ptp(margin, axis=2) < 32)
    framed = inside & (np.ptp(margin, axis=2) < 60) & (margin.max(axis=2) < 260)
    within = np.where(framed, support[None], 0).max(axis=1, initial=0)
    without = np.where(close.T, support[None], 0).max(axis=1, initial=0)
    # A rectangle that holds several strong ones apart from each other is a group, a rug or tiles.
    area = np.abs(signed_area(quads))
    strong = inside & (support > 0.6)[None] & (area[None] < 0.5 * area[:, None])
    spread = np.zeros(len(quads))
    for i in range(len(quads)):
        others = np.flatnonzero(strong[i])
        if len(others) > 1:
            size = np.sqrt(area[others].min())
            spread[i] = np.ptp(centre[others], axis=0).max() / max(size, 1)
    return within, without, np.log1p(spread)

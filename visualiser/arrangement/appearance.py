"""How a group looks from across the room: straight sides, symmetry, like sizes, room about it.

Readers of drawings name these where they would not sign a group: ragged sides, one side heavier,
a tiny frame in a row of large ones, frames close under the ceiling or at the wall's end.
"""

from __future__ import annotations

import numpy as np

from visualiser.arrangement.measures import Measured, MeasuringContext, straight_sides
from visualiser.arrangement.neighbours import Floats, scale_of
from visualiser.arrangement.setting import Centres, Setting

WIDE = 1.75
"""Gaps from which two pieces that face each other leave a hole between them."""
HOLE_COUNTS = 2.0
"""A hole of half a mean piece counts as wholly failed."""
HAIR = 1e-6
LEAST_LIKE = 0.6
"""Height of the lowest over that of the tallest in a row, from which they look alike."""
SAME_ENDS = 0.03
"""Mean difference from end to end, over the tallest, at which a line is the same from both."""
FULL_DISORDER = 0.5
"""Disorder of a line that counts as wholly failed."""
HEADROOM = 0.12
"""Share of the wall's height above a group from which it does not crowd the ceiling."""
END_ROOM = 0.12
"""Share of the wall's width beside a group from which it does not crowd the wall's end."""


def appearance_terms(
    centres: Centres, m: Measured, setting: Setting, context: MeasuringContext
) -> dict[str, Floats]:
    """Terms (K,) from 0 to 1 of layouts (K, N, 2) where they hang."""
    level = _levelled(centres, context)
    half = setting.sizes / 2
    low, high = level - half, level + half
    gap = context.gap_mm or setting.gap_mm
    out = {
        "straight sides": straight_sides(low, high, gap),
        "symmetry": symmetry(low, high, context.host if context.kind == "flank" else None),
        "like sizes": _alike_in_line(low, high),
        "no holes": 1 - np.minimum(largest_hole(low, high, gap) * HOLE_COUNTS, 1),
    }
    wall = setting.survey.outline.bounds
    boxes = setting.boxes(centres)
    over = (setting.space.ceiling_mm - boxes[..., 3].max(axis=1)) / (HEADROOM * wall.height_mm)
    ends = np.minimum(
        boxes[..., 0].min(axis=1) - wall.left_mm, wall.right_mm - boxes[..., 2].max(axis=1)
    ) / (END_ROOM * wall.width_mm)
    out["room about it"] = np.clip(np.minimum(over, ends), 0, 1)
    if context.kind == "flank" and context.host is not None:
        inner = context.host[2]
        own = (m.size[:, 0] - inner) / 2
        out["weight beside"] = np.clip(2 * own / inner, 0, 1)
    return out


def _levelled(centres: Centres, context: MeasuringContext) -> Centres:
    """Take layouts down to level from the slope that they follow."""
    if not context.rise:
        return centres
    out = centres.copy()
    out[..., 1] -= context.rise * (centres[..., 0] - centres[..., :1, 0])
    return out


def largest_hole(low: Floats, high: Floats, gap_mm: float) -> Floats:
    """Area (K,) of the largest hole inside each group, in mean pieces.

    A hole is what lies between two pieces that face each other across more than a gap, with
    nothing in between.
    """
    worst = np.zeros(len(low))
    area = np.prod(high - low, axis=2).mean(axis=1)
    for axis in (0, 1):
        along = 1 - axis
        clear = low[:, None, :, axis] - high[:, :, None, axis]
        left = np.maximum(low[:, :, None, along], low[:, None, :, along])
        right = np.minimum(high[:, :, None, along], high[:, None, :, along])
        pair = np.nonzero((clear > WIDE * scale_of(gap_mm)) & (right - left > gap_mm))
        group, one, two = pair
        if not len(group):
            continue
        start, stop = high[group, one, axis, None], low[group, two, axis, None]
        first, last = left[pair][:, None], right[pair][:, None]
        between = (
            (low[group, :, axis] < stop - HAIR)
            & (high[group, :, axis] > start + HAIR)
            & (low[group, :, along] < last - HAIR)
            & (high[group, :, along] > first + HAIR)
        ).any(axis=1)
        empty = (clear[pair] - gap_mm) * (last - first)[:, 0]
        np.maximum.at(worst, group, np.where(between, 0.0, empty) / area[group])
    return worst


def symmetry(
    low: Floats, high: Floats, host: tuple[float, float, float, float] | None = None
) -> Floats:
    """Share (K,) of each group that its mirror image left for right covers."""
    middle = (low[..., 0].min(axis=1) + high[..., 0].max(axis=1))[:, None]
    if host is not None:
        middle = np.full_like(middle, 2 * host[0])
    left, right = middle - high[..., 0], middle - low[..., 0]
    wide = np.minimum(high[:, :, None, 0], right[:, None]) - np.maximum(
        low[:, :, None, 0], left[:, None]
    )
    tall = np.minimum(high[:, :, None, 1], high[:, None, :, 1]) - np.maximum(
        low[:, :, None, 1], low[:, None, :, 1]
    )
    shared = (np.maximum(wide, 0) * np.maximum(tall, 0)).sum(axis=(1, 2))
    return np.asarray(np.clip(shared / np.prod(high - low, axis=2).sum(axis=1), 0, 1))


def _alike_in_line(low: Floats, high: Floats) -> Floats:
    """How alike and ordered the heights of a row, or widths of a column, are; 1 for other groups.

    One small frame in a row of large ones counts, and so does a line that neither is the same
    from both ends nor rises to its middle and falls.
    """
    size, out = high - low, np.ones(len(low))
    for axis in (0, 1):
        line = low[..., axis].max(axis=1) < high[..., axis].min(axis=1)
        if not line.any():
            continue
        across, along = size[line, :, axis], low[line, :, 1 - axis]
        across = np.take_along_axis(across, np.argsort(along, axis=1, kind="stable"), axis=1)
        like = np.clip(across.min(axis=1) / across.max(axis=1) / LEAST_LIKE, 0, 1)
        out[line] = like * np.clip(1 - disorder(across) / FULL_DISORDER, 0, 1)
    return out


def disorder(across: Floats) -> Floats:
    """How far the heights (..., N) of a row are from a line that is the same from both ends.

    The mean difference of what is as far from either end, over the tallest; where there is any,
    a piece that is lower than some on both sides of it counts too.
    """
    tallest = across.max(axis=-1)
    apart = np.abs(across - across[..., ::-1]).mean(axis=-1) / tallest
    left = np.maximum.accumulate(across, axis=-1)
    right = np.maximum.accumulate(across[..., ::-1], axis=-1)[..., ::-1]
    dip = (np.minimum(left, right) - across).max(axis=-1) / tallest
    return np.asarray(np.where(apart < SAME_ENDS, apart, apart + dip))

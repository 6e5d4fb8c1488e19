"""How a group looks from across the room: straight sides, symmetry, like sizes, room about it.

Readers of drawings name these where they would not sign a group: ragged sides, one side heavier,
a tiny frame in a row of large ones, frames close under the ceiling or at the wall's end.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.measures import Kind, Measured, MeasuringContext, straight_sides
from visualiser.arrangement.neighbours import NEAR, Floats, scale_of
from visualiser.arrangement.setting import Centres, Setting

FULL_VOID = 3.0
"""Gaps more than one, that an empty place inside a group is broad, which count as wholly failed."""
LEAST_VOID = 0.1
"""Share of a mean piece's side that breadth is counted in where gaps are narrower."""
FULL_ADRIFT = 0.6
"""Share at which a small frame counts as wholly adrift."""
CELLS = 32768
"""Numbers worked on at once: what a processor's nearest memory holds."""
HAIR = 1e-6
LEAST_LIKE = 0.6
"""Height of the lowest over that of the tallest in a row, from which they look alike."""
SAME_ENDS = 0.03
"""Mean difference from end to end, over the tallest, at which a line is the same from both."""
DIP_OF_SAME = 0.35
"""What a dip counts in such a line: large and small turn by turn pass, small between large less."""
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
        "like sizes": ALIKE.get(context.kind, _alike_in_line)(low, high),
        "no holes": np.ones(len(centres)),
        "small ones held": 1 - np.minimum(adrift(low, high, gap) / FULL_ADRIFT, 1),
    }
    mass = ~in_one_line(low, high)
    if mass.any():
        own_low, own_high = low[mass], high[mass]
        taken = None if context.rise else _taken(own_low, own_high, setting)
        broad = widest_void(own_low, own_high, taken) - gap
        full = FULL_VOID * void_scale(setting.sizes, gap)
        out["no holes"][mass] = 1 - np.clip(broad / full, 0, 1)
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


def _taken(low: Floats, high: Floats, setting: Setting) -> Floats:
    """Rectangles (M, 4) of what else is on the wall or before it within the groups' outlines."""
    survey = setting.survey
    rects = [zone.polygon.bounds for zone in survey.zones] + [f.rect for f in survey.furniture]
    boxes = np.array([(r.left_mm, r.bottom_mm, r.right_mm, r.top_mm) for r in rects]).reshape(-1, 4)
    first, last = low.min(axis=(0, 1)), high.max(axis=(0, 1))
    meets = (boxes[:, :2] < last).all(axis=1) & (boxes[:, 2:] > first).all(axis=1)
    return np.asarray(boxes[meets])


def _levelled(centres: Centres, context: MeasuringContext) -> Centres:
    """Take layouts down to level from the slope that they follow."""
    if not context.rise:
        return centres
    out = centres.copy()
    out[..., 1] -= context.rise * (centres[..., 0] - centres[..., :1, 0])
    return out


def in_one_line(low: Floats, high: Floats) -> NDArray[np.bool_]:
    """Whether each group (K,) is one row or one column: a level or a plumb line meets all of it."""
    return np.asarray((low.max(axis=1) < high.min(axis=1)).any(axis=1))


def void_scale(sizes: Floats, gap_mm: float) -> float:
    """Length that the breadth of an empty place is counted in: a gap, where there are gaps."""
    return max(gap_mm, LEAST_VOID * float(np.sqrt(np.prod(sizes, axis=1).mean())))


def _by_axis(corners: Floats) -> list[Floats]:
    """Corners (K, N, 2) as (N, K) along x and along y, as a short last axis makes numpy slow."""
    return [np.ascontiguousarray(corners[..., axis].T) for axis in (0, 1)]


def widest_void(low: Floats, high: Floats, taken: Floats | None = None) -> Floats:
    """Side (K,) of the largest empty square inside the outline of each group, mm.

    Inside a group and along its edge alike the eye finds the place that is broad both ways; a
    long narrow one reads as a gap.

    Parameters
    ----------
    low, high
        Lower left and upper right corners (K, N, 2) of the pieces.
    taken
        Rectangles (M, 4) of other things, which are not empty either.

    Notes
    -----
    A largest empty square can be moved left until it meets a side of a piece or of the outline,
    and then down. So its lower left corner is at the right side of one piece and the upper side
    of one, and what lies up and to the right of that corner bounds it.
    """
    near, far = _by_axis(low), _by_axis(high)
    ends = [(x.min(axis=0), y.max(axis=0)) for x, y in zip(near, far, strict=True)]
    if taken is not None and len(taken):
        there = np.ones((1, len(low)))
        near = [np.concatenate([x, taken[:, k, None] * there]) for k, x in enumerate(near)]
        far = [np.concatenate([x, taken[:, k + 2, None] * there]) for k, x in enumerate(far)]
    best = np.zeros(len(low))
    some = max(8, CELLS // (len(far[0]) + 1) ** 2)
    for part in (slice(k, k + some) for k in range(0, len(low), some)):
        room, away = [], []
        for x, y, (first, last) in zip(near, far, ends, strict=True):
            starts = np.maximum(np.concatenate([first[None, part], y[:, part]]), first[part])
            room.append(last[part] - starts)
            # How far each thing starts beyond each corner; what ends before it bounds nothing.
            beyond = y[:, None, part] > starts + HAIR
            away.append(np.where(beyond, x[:, None, part] - starts, np.inf))
        side = np.minimum(room[0][:, None], room[1])
        for across, up in zip(*away, strict=True):
            np.minimum(side, np.maximum(across[:, None], up), out=side)
        best[part] = side.max(axis=(0, 1))
    return np.maximum(best, 0.0)


def adrift(low: Floats, high: Floats, gap_mm: float) -> Floats:
    """How far the loosest small frame (K,) of each group hangs free of its neighbours, 0 to 1.

    The share of its sides that faces no near neighbour, times how much smaller than the mean
    piece it is: a large frame at the edge holds its place by itself.
    """
    near, far = _by_axis(low), _by_axis(high)
    size = [y - x for x, y in zip(near, far, strict=True)]
    facing = np.zeros_like(size[0])
    for axis, along in ((0, 1), (1, 0)):
        # Half a gap more at either end: between two neighbours in line there is no opening.
        shared = np.minimum(far[along][:, None], far[along] + gap_mm / 2)
        shared -= np.maximum(near[along][:, None], near[along] - gap_mm / 2)
        np.maximum(shared, 0.0, out=shared)
        clear = near[axis] - far[axis][:, None]
        after = (clear > -HAIR) & (clear < NEAR * scale_of(gap_mm))
        for faced in (after, after.swapaxes(0, 1)):
            facing += np.minimum((faced * shared).sum(axis=1), size[along])
    free = 1 - facing / (2 * (size[0] + size[1]))
    area = size[0] * size[1]
    small = np.maximum(1 - area / area.mean(axis=0), 0.0)
    return np.asarray((free * small).max(axis=0))


def symmetry(
    low: Floats, high: Floats, host: tuple[float, float, float, float] | None = None
) -> Floats:
    """Share (K,) of each group that its mirror image left for right covers."""
    (left, bottom), (right, top) = _by_axis(low), _by_axis(high)
    turn = left.min(axis=0) + right.max(axis=0)
    if host is not None:
        turn = np.full_like(turn, 2 * host[0])
    wide = np.minimum(right[:, None], turn - left) - np.maximum(left[:, None], turn - right)
    tall = np.minimum(top[:, None], top) - np.maximum(bottom[:, None], bottom)
    shared = (np.maximum(wide, 0) * np.maximum(tall, 0)).sum(axis=(0, 1))
    area = ((right - left) * (top - bottom)).sum(axis=0)
    return np.asarray(np.clip(shared / area, 0, 1))


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
        out[line] = _orderly(across)
    return out


def _alike_in_rows(low: Floats, high: Floats) -> Floats:
    """How alike and ordered the heights of each row of a group are, the mean of its rows."""
    out = np.empty(len(low))
    for group, (one, two) in enumerate(zip(low, high, strict=True)):
        row = _runs(one[:, 1], two[:, 1])
        order = np.argsort(one[:, 0], kind="stable")
        heights = (two - one)[order, 1]
        out[group] = np.mean([_orderly(heights[row[order] == k]) for k in range(row.max() + 1)])
    return out


def _alike_in_stacks(low: Floats, high: Floats) -> Floats:
    """How alike and ordered the heights of a row are, two that are stacked counting as one."""
    out = np.empty(len(low))
    for group, (one, two) in enumerate(zip(low, high, strict=True)):
        part = _runs(one[:, 0], two[:, 0])
        heights = [two[part == k, 1].max() - one[part == k, 1].min() for k in range(part.max() + 1)]
        out[group] = _orderly(np.array(heights))
    return out


def _runs(low: Floats, high: Floats) -> NDArray[np.intp]:
    """Give the number (N,) of the run that each span is in; runs do not touch."""
    order = np.argsort(low, kind="stable")
    ends = np.maximum.accumulate(high[order])
    out = np.empty(len(low), np.intp)
    out[order] = np.concatenate([[0], np.cumsum(low[order[1:]] > ends[:-1])])
    return out


def _orderly(across: Floats) -> Floats:
    """How alike and ordered the heights (..., N) of lines are, from 0 to 1."""
    like = np.clip(across.min(axis=-1) / across.max(axis=-1) / LEAST_LIKE, 0, 1)
    return np.asarray(like * np.clip(1 - disorder(across) / FULL_DISORDER, 0, 1))


def disorder(across: Floats) -> Floats:
    """How far the heights (..., N) of a row are from a line that is the same from both ends.

    The mean difference of what is as far from either end, over the tallest, and how far a piece is
    lower than some on both sides of it, which counts less where both ends are the same.
    """
    tallest = across.max(axis=-1)
    apart = np.abs(across - across[..., ::-1]).mean(axis=-1) / tallest
    left = np.maximum.accumulate(across, axis=-1)
    right = np.maximum.accumulate(across[..., ::-1], axis=-1)[..., ::-1]
    dip = (np.minimum(left, right) - across).max(axis=-1) / tallest
    return np.asarray(apart + np.where(apart < SAME_ENDS, DIP_OF_SAME * dip, dip))


ALIKE: Mapping[Kind, Callable[[Floats, Floats], Floats]] = MappingProxyType(
    {"rows": _alike_in_rows, "stacked row": _alike_in_stacks}
)
"""How alike the sizes are in groups that hang in lines by design; others count as one line if they
are one."""

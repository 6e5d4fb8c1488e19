"""Full rectangles of ten pieces or more: blocks whose heights meet stand side by side.

First blocks of a few pieces are joined that fill a rectangle of their own; then rows of blocks as
high as each other, or stacks of blocks as wide, are looked for that take every piece once (an exact
cover: Knuth, "Dancing links", 2000). The search follows no lot: the same set gives the same groups.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache, reduce
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.families.parts import Gaps, Part, joined, place
from visualiser.arrangement.neighbours import scale_of
from visualiser.arrangement.problem import SearchProblem, group_score
from visualiser.arrangement.setting import Centres, Setting

Counts = NDArray[np.int16]
HAIR = 0.044
"""Gaps by which a side may lie off the line that it shares: 300 beside 297 mm looks the same."""
MOST_SHORT = 2.0
"""Gaps by which one part may be lower than its neighbour."""
SHORT_COUNTS = 2.0
"""What lacks counts so many times what gaps stretch."""
MOST_IN_BLOCK = 6
SHAPES = (0.6, 1.6)
"""Height over width that part wide blocks from compact ones and from tall ones."""
MOST_OF_SHAPE = 150
"""Blocks kept of each number of pieces and shape, those whose gaps stretch least."""
MOST_ALIKE = 2
"""Blocks of one shape kept of the same pieces."""
MOST_TRIED = 4000
"""Pairs of blocks tried for each number of pieces."""
STEP = 0.02
"""Gaps by which heights differ that covers are looked for."""
HEIGHTS = 14
"""Heights, and widths, for which a cover is looked for."""
LOOKS = 400
"""Choices of a next block looked at for each height."""
COVERS = 8
"""Covers kept of each height."""
REALISED = 24
"""Covers that are laid out."""
TURNED = 24
"""Groups whose blocks are turned over one by one where that is better."""
TURN_ROUNDS = 2
LINE_ORDERS = 8
"""Orders of the blocks in a line that are tried."""
ASPECTS = (0.8, 2.6)
ASPECTS_ABOVE = (0.8, 3.8)
"""Width over height of groups that are looked for, on a bare wall and above furniture."""
TOO_WIDE = 1.2
"""Range of widths, over the least, where no usual one takes all the pieces."""
WALL_SHARE = (0.2, 0.8)
"""Share of a bare wall's width."""


@dataclass(frozen=True, slots=True, eq=False)
class _Pool:
    """Blocks as arrays: what they are made of, ranges, wanted sizes, and how much gaps stretch."""

    parts: list[Part]
    counts: Counts
    spans: NDArray[np.float64]
    want: NDArray[np.float64]
    strain: NDArray[np.float64]


@lru_cache(maxsize=8)
def dissected(setting: Setting) -> tuple[Centres, ...]:
    """Give full rectangles (N, 2) of all the pieces, the best by the search's score first."""
    kinds, owners = _kinds(setting)
    if len(kinds) < 2:
        return ()
    gaps, there = _gaps(setting), np.array([len(own) for own in owners], np.int16)
    pool = _blocks(kinds, there, gaps)
    found: list[tuple[float, Part]] = []
    for axis in (0, 1):
        found += _covers(pool, there, setting, axis, gaps)
    found.sort(key=lambda item: item[0])
    laid = [
        _laid_out(order, owners, setting.count, gaps, outward)
        for _, part in found[:REALISED]
        for order in _line_orders(part)
        for outward in ((0.0,) if part.waste < 1.0 else (0.0, 1.0, -1.0))
    ]
    return tuple(_turned(laid, setting)) if laid else ()


def _gaps(setting: Setting) -> Gaps:
    rules = setting.guidelines
    hair = HAIR * rules.gap_mm
    least, most = rules.gap_min_mm + hair, rules.gap_max_mm - hair
    return min(least, rules.gap_mm), rules.gap_mm, max(most, rules.gap_mm)


def _kinds(setting: Setting) -> tuple[list[tuple[float, float]], list[list[int]]]:
    """Give the different sizes, the largest first, and the pieces of each."""
    own: dict[tuple[float, float], list[int]] = {}
    for index, (width, height) in enumerate(setting.sizes.tolist()):
        own.setdefault((width, height), []).append(index)
    return list(own), list(own.values())


def _blocks(kinds: list[tuple[float, float]], there: Counts, gaps: Gaps) -> _Pool:
    """Join full rectangles of up to so many pieces, two smaller ones at a time."""
    leaves = []
    for number, size in enumerate(kinds):
        spans = tuple((length - HAIR * gaps[1], length + HAIR * gaps[1]) for length in size)
        leaves.append(Part((spans[0], spans[1]), size, piece=number))
    level = [_pool(leaves, np.eye(len(kinds), dtype=np.int16), np.zeros(len(leaves)))]
    most = min(MOST_IN_BLOCK, int(there.sum()) - 1)
    for count in range(2, most + 1):
        level.append(_joined_level(level, count, there, gaps))
    return _together(level)


def _pool(parts: list[Part], counts: Counts, strain: NDArray[np.float64]) -> _Pool:
    spans = np.array([p.spans for p in parts]).reshape(-1, 2, 2)
    return _Pool(parts, counts, spans, np.array([p.want for p in parts]).reshape(-1, 2), strain)


def _together(level: list[_Pool]) -> _Pool:
    return _Pool(
        [part for pool in level for part in pool.parts],
        np.concatenate([pool.counts for pool in level]),
        np.concatenate([pool.spans for pool in level]),
        np.concatenate([pool.want for pool in level]),
        np.concatenate([pool.strain for pool in level]),
    )


def _joined_level(level: list[_Pool], size: int, there: Counts, gaps: Gaps) -> _Pool:
    """Join blocks of so many pieces out of two smaller ones that about meet across the joint."""
    tries = np.concatenate(
        [
            _tries(level, own, size, axis, there, gaps[1])
            for own in range(1, size // 2 + 1)
            for axis in (0, 1)
        ]
    )
    tries = tries[np.argsort(np.round(tries[:, 0], 6), kind="stable")[:MOST_TRIED]]
    parts: list[Part] = []
    rows: list[Counts] = []
    strains: list[float] = []
    alike: dict[tuple[bytes, int], int] = {}
    seen: set[tuple[bytes, tuple[float, ...]]] = set()
    shapes = [0, 0, 0]
    for strain, *numbers in tries.tolist():
        own, axis, one, two = map(int, numbers)
        a, b = level[own - 1], level[size - own - 1]
        row = a.counts[one] + b.counts[two]
        part = joined(a.parts[one], b.parts[two], axis, gaps)
        shape = int(np.digitize(part.want[1] / part.want[0], SHAPES))
        key = row.tobytes()
        spans = tuple(round(v / scale_of(gaps[1]), 3) for span in part.spans for v in span)
        full = shapes[shape] >= MOST_OF_SHAPE or alike.get((key, shape), 0) >= MOST_ALIKE
        if full or (key, spans) in seen:
            continue
        seen.add((key, spans))
        alike[key, shape] = alike.get((key, shape), 0) + 1
        shapes[shape] += 1
        parts.append(part)
        rows.append(row)
        strains.append(strain)
    counts = np.array(rows, np.int16).reshape(-1, len(there))
    return _pool(parts, counts, np.array(strains))


def _tries(
    level: list[_Pool], own: int, size: int, axis: int, there: Counts, gap: float
) -> NDArray[np.float64]:
    """Give pairs to join (M, 5): how much gaps stretch, size of the first, axis, which two."""
    a, b = level[own - 1], level[size - own - 1]
    across = 1 - axis
    low = np.maximum(a.spans[:, None, across, 0], b.spans[None, :, across, 0])
    high = np.minimum(a.spans[:, None, across, 1], b.spans[None, :, across, 1])
    near = low - high <= MOST_SHORT * gap
    if own == size - own:
        near &= np.tri(len(a.parts), dtype=bool)
    one, two = np.nonzero(near)
    fits = (a.counts[one] + b.counts[two] <= there).all(axis=1)
    one, two = one[fits], two[fits]
    off = np.abs(a.want[one, across] - b.want[two, across])
    short = np.maximum(low - high, 0)[one, two]
    strain = a.strain[one] + b.strain[two] + (off + SHORT_COUNTS * short) / scale_of(gap)
    same = np.ones(len(one))
    return np.column_stack([strain, own * same, axis * same, one, two])


def _lengths(setting: Setting, axis: int) -> tuple[float, float]:
    """Give the least and greatest height of a row of blocks, or width of a stack (axis 1)."""
    rules, space, gap = setting.guidelines, setting.space, setting.gap_mm
    area = float(np.prod(setting.sizes + gap, axis=1).sum())
    if space.furniture is not None:
        below = space.furniture.rect
        shares = rules.furniture_share_min, rules.furniture_share_max
        width = shares[0] * below.width_mm, shares[1] * below.width_mm
        aspects = ASPECTS_ABOVE
        tall = space.bounds.top_mm - below.top_mm - rules.furniture_clearance_min_mm
    else:
        width = WALL_SHARE[0] * space.bounds.width_mm, WALL_SHARE[1] * space.bounds.width_mm
        aspects, tall = ASPECTS, space.bounds.height_mm
    low = max(width[0], (aspects[0] * area) ** 0.5, area / max(tall, 1.0))
    high = min(width[1], (aspects[1] * area) ** 0.5)
    if low > high:
        # More than the furniture's share of width: as little more as there is.
        high = TOO_WIDE * low
    return (low - gap, high - gap) if axis else (area / high - gap, area / low - gap)


def _covers(
    pool: _Pool, there: Counts, setting: Setting, axis: int, gaps: Gaps
) -> Iterator[tuple[float, Part]]:
    """Give lines of blocks that take every piece, with how much their gaps stretch."""
    low, high = _lengths(setting, axis)
    cross = pool.spans[:, 1 - axis]
    want = pool.want[:, 1 - axis]
    step = STEP * scale_of(gaps[1])
    marks = np.unique(np.round(want[(want >= low) & (want <= high)] / step)) * step
    if not len(marks):
        return
    least = cross[None, :, 1] + MOST_SHORT * gaps[1]
    fits = (cross[None, :, 0] <= marks[:, None]) & (least >= marks[:, None])
    whole = np.array([(pool.counts[row] > 0).any(axis=0).all() for row in fits])
    marks, fits = marks[whole], fits[whole]
    best = np.sort(np.argsort(-fits.sum(axis=1), kind="stable")[:HEIGHTS])
    for mark, row in zip(marks[best], fits[best], strict=True):
        chosen = np.flatnonzero(row)
        short = np.maximum(mark - cross[chosen, 1], 0)
        off = np.abs(want[chosen] - mark) + SHORT_COUNTS * short
        cost = pool.strain[chosen] + off / scale_of(gaps[1])
        order = np.argsort(np.round(cost, 6), kind="stable")
        chosen, cost = chosen[order], cost[order]
        for total, picked in _exact_covers(pool.counts[chosen], cost, there):
            blocks = [pool.parts[chosen[k]] for k in picked]
            if len(blocks) > 1:
                yield total, _in_line(blocks, axis, gaps)


def _in_line(blocks: list[Part], axis: int, gaps: Gaps) -> Part:
    """Join blocks along an axis; each stays one part of the line."""
    whole = reduce(lambda a, b: joined(a, b, axis, gaps), blocks)
    return replace(whole, parts=tuple(blocks))


def _exact_covers(
    counts: Counts, cost: NDArray[np.float64], there: Counts
) -> list[tuple[float, tuple[int, ...]]]:
    """Give choices of blocks that take every piece once, the cheapest of those looked at first.

    The next block is one of those that take the size for which fewest are left; each choice has
    half of the looks that the ones before it have left over.
    """
    found: dict[tuple[int, ...], float] = {}
    has = counts > 0

    def go(rest: Counts, fitting: NDArray[np.intp], picked: tuple[int, ...], looks: int) -> int:
        if not rest.any():
            found.setdefault(tuple(sorted(picked)), float(cost[list(picked)].sum()))
            return 1
        fitting = fitting[(counts[fitting] <= rest).all(axis=1)]
        many = np.where(rest > 0, has[fitting].sum(axis=0), len(cost) + 1)
        kind, used = int(many.argmin()), 1
        if many[kind] == 0:
            return used
        for k in fitting[has[fitting, kind]].tolist():
            share = (looks - used + 1) // 2
            if share < 1 or len(found) >= COVERS:
                break
            used += go(rest - counts[k], fitting, (*picked, k), share)
        return used

    go(there.copy(), np.arange(len(cost)), (), LOOKS)
    return sorted((total, picked) for picked, total in found.items())


def _line_orders(part: Part) -> Iterator[Part]:
    """Order the blocks of the outer line, the largest inside first, without mirror images."""
    count = len(part.parts)
    if count > 4:
        areas = [item.want[0] * item.want[1] for item in part.parts]
        by_area = sorted(range(count), key=lambda k: (-areas[k], k))
        middle: list[int] = []
        for place_, number in enumerate(by_area):
            middle = [*middle, number] if place_ % 2 == 0 else [number, *middle]
        line = tuple(range(count))
        orders = [tuple(middle), line, (*line[1::2][::-1], *line[::2])]
    else:
        orders = [o for o in permutations(range(count)) if o[0] <= o[-1]][:LINE_ORDERS]
    for order in orders:
        yield replace(part, parts=tuple(part.parts[k] for k in order))


Blocks = NDArray[np.intp]
"""(N,) the block of the outer line that each piece belongs to."""


def _laid_out(
    part: Part, owners: list[list[int]], count: int, gaps: Gaps, outward: float
) -> tuple[Centres, Blocks]:
    """Lay a part out and give each place a piece of its kind."""
    waiting = [list(own) for own in owners]
    centres, blocks = np.empty((count, 2)), np.empty(count, np.intp)
    rows = place(part, part.want, gaps, outward)
    number = 0
    for block, item in enumerate(part.parts):
        for kind, x, y in rows[number : number + _pieces(item)]:
            index = waiting[int(kind)].pop(0)
            centres[index], blocks[index] = (x, y), block
        number += _pieces(item)
    return centres, blocks


def _pieces(part: Part) -> int:
    return sum(map(_pieces, part.parts)) if part.parts else 1


def _turned(laid: list[tuple[Centres, Blocks]], setting: Setting) -> list[Centres]:
    """Turn blocks of the best groups over, one after another, wherever that scores more."""
    problem = SearchProblem(setting)
    scores = group_score(problem, np.stack([centres for centres, _ in laid]))
    best = np.argsort(-np.round(scores, 6), kind="stable")[:TURNED]
    groups = np.stack([laid[k][0] for k in best])
    blocks = np.stack([laid[k][1] for k in best])
    scores = scores[best]
    for _ in range(TURN_ROUNDS):
        for block in range(int(blocks.max()) + 1):
            own = blocks == block
            for signs in ((-1, 1), (1, -1), (-1, -1)):
                tried = _flipped(groups, own, setting, signs)
                now = group_score(problem, tried)
                better = now > scores + 1e-9
                groups[better], scores[better] = tried[better], now[better]
    order = np.argsort(-np.round(scores, 6), kind="stable")
    return [groups[k] for k in order if scores[k] >= 0]


def _flipped(
    groups: Centres, own: NDArray[np.bool_], setting: Setting, signs: tuple[int, int]
) -> Centres:
    """Turn the own pieces of each group (G, N, 2) over about their middle."""
    half, far = setting.sizes / 2, np.where(own[..., None], 0.0, np.inf)
    low = (groups - half + far).min(axis=1, keepdims=True)
    high = (groups + half - far).max(axis=1, keepdims=True)
    there = np.isfinite(low) & np.isfinite(high)
    middle = np.where(there, (np.where(there, low, 0) + np.where(there, high, 0)) / 2, 0.0)
    return np.where(own[..., None], middle + signs * (groups - middle), groups)

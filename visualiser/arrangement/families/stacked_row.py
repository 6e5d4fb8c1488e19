"""Mixed sizes in one row on one level line, small ones stacked two by two to match the large.

The row is the same from both ends: a stack faces a stack.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from visualiser.arrangement.families.family import Family, Layout, same_size
from visualiser.arrangement.families.lines import line_up, mirrored_order
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.setting import Centres, Setting

FEWEST, MOST = 4, 12
MOST_UNLIKE = 0.2
"""Share of the wider one's width by which two that are stacked may differ."""
LOWEST, HIGHEST = 0.75, 1.15
"""Height of a stack over the height that the row is to have."""
WAYS = 24
"""Ways to stack that are laid out, those first whose heights are most alike."""
HIGHER = 1.5
"""Height of the row over the tallest piece at most."""
KEPT = 3
"""Ways to stack kept for each height."""
UNLIKE_COUNTS = 2.0
"""What unlike widths of a stack count, where unlike heights in the row count 1."""

Parts = tuple[tuple[int, ...], ...]
"""Pieces of the row, one by one or two that are stacked."""


def _ways(setting: Setting, height_mm: float) -> list[tuple[float, Parts]]:
    """Give ways to stack pieces two by two towards a height, those that match it best first."""
    sizes, gap = setting.sizes, setting.gap_mm
    kinds = [tuple(size) for size in sizes.tolist()]
    known: dict[tuple[int, ...], list[tuple[float, Parts]]] = {(): [(0.0, ())]}

    def best(rest: tuple[int, ...]) -> list[tuple[float, Parts]]:
        if rest in known:
            return known[rest]
        first, others = rest[0], rest[1:]
        off = abs(sizes[first, 1] - height_mm) / height_mm
        found = [(cost + off, ((first,), *parts)) for cost, parts in best(others)]
        seen: set[tuple[float, ...]] = set()
        for k, other in enumerate(others):
            if kinds[other] in seen:
                continue
            seen.add(kinds[other])
            wide = sizes[[first, other], 0]
            unlike = float(np.ptp(wide) / wide.max())
            share = (sizes[[first, other], 1].sum() + gap) / height_mm
            if unlike <= MOST_UNLIKE and LOWEST <= share <= HIGHEST:
                both = UNLIKE_COUNTS * unlike + abs(share - 1)
                left = (*others[:k], *others[k + 1 :])
                found += [(cost + both, ((first, other), *parts)) for cost, parts in best(left)]
        found.sort(key=lambda item: round(item[0], 6))
        known[rest] = found[:KEPT]
        return known[rest]

    return [way for way in best(tuple(range(setting.count))) if len(way[1]) < setting.count]


def _heights(setting: Setting) -> list[float]:
    """Give heights that the row may have: of single pieces, and of two that are stacked.

    A stack whose gap may open or close to a single piece's height adds none.
    """
    tall, rules = np.unique(setting.sizes[:, 1]), setting.guidelines
    stacks = np.unique(tall[:, None] + tall + setting.gap_mm)
    off = tall[:, None] - stacks
    low, high = rules.gap_min_mm - setting.gap_mm, rules.gap_max_mm - setting.gap_mm
    stacks = stacks[~((off >= low) & (off <= high)).any(axis=0)]
    every = np.sort(np.concatenate([tall, stacks]))
    return [float(h) for h in every if LOWEST * tall[-1] <= h <= HIGHER * tall[-1]]


def _laid_out(setting: Setting, parts: Parts, height_mm: float) -> Iterator[Centres]:
    """Lay the row out about its level line, stacks as far from one end as from the other."""
    sizes, rules = setting.sizes, setting.guidelines
    gaps, outer = [], []
    for part in parts:
        own = sizes[list(part)]
        gap = float(np.clip(height_mm - own[:, 1].sum(), rules.gap_min_mm, rules.gap_max_mm))
        gaps.append(gap)
        outer.append((own[:, 0].max(), own[:, 1].sum() + gap * (len(part) - 1)))
    for order in _mirrored(parts, np.array(outer)):
        middles = line_up(np.array(outer), order, setting.gap_mm, 0, 0.0)
        centres = np.empty_like(sizes)
        for part, gap, (x, y), (_, tall) in zip(parts, gaps, middles, outer, strict=True):
            # The heavier below.
            stack = line_up(sizes, tuple(sorted(part, key=lambda k: -setting.masses[k])), gap, 1, 0)
            centres[list(part)] = stack[list(part)] + (x, y - tall / 2)
        yield centres


def _mirrored(parts: Parts, outer: Floats) -> Iterator[tuple[int, ...]]:
    """Order parts so that stacks, and single pieces, are the same from both ends.

    That cannot be where the number of either is odd; then nothing is given.
    """
    stacks, single = ([k for k, part in enumerate(parts) if len(part) == n] for n in (2, 1))
    if len(stacks) % 2 and len(single) % 2:
        return
    inner = [[own[k] for k in mirrored_order(outer[own, 1])] for own in (stacks, single)]
    middle = [own[len(own) // 2] for own in inner if len(own) % 2]
    pairs = [(own[k], own[-1 - k]) for own in inner for k in range(len(own) // 2)]
    pairs.sort(key=lambda pair: -float(outer[list(pair), 1].mean()))
    for way in (pairs, pairs[::-1]):
        order = list(middle)
        for left, right in way:
            order = [left, *order, right]
        yield tuple(order)


def _stacked_row(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    ways = [
        (cost, height, parts)
        for height in _heights(setting)
        for cost, parts in _ways(setting, height)
    ]
    ways.sort(key=lambda way: round(way[0], 6))
    done: set[Parts] = set()
    for _cost, height, parts in ways[:WAYS]:
        if parts not in done:
            done.add(parts)
            for centres in _laid_out(setting, parts, height):
                yield Layout(centres, "centres level")


STACKED_ROW = Family(
    "row of stacks",
    "four to twelve pieces of mixed sizes, of which two small ones stack to a large one's height",
    lambda s: FEWEST <= s.count <= MOST and not same_size(s),
    _stacked_row,
)

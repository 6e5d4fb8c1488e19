"""Unlike pieces shared out to either side of an object, so that both sides weigh about the same."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from visualiser.arrangement.contexts import (
    Flanked,
    flank_context,
    flanked_objects,
    level_beside,
)
from visualiser.arrangement.families.boxes import realised, sliced
from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.families.flanks import (
    centred_half,
    distances_to_try,
    pairs_of_all,
    parts_alcoves,
)
from visualiser.arrangement.families.lines import line_up
from visualiser.arrangement.setting import Centres, Setting
from visualiser.arrangement.slopes import floor_rise
from visualiser.geometry import Rect

MOST_SHARED = 8
"""Pieces that are shared out in every way."""
MOST_UNLIKE = 0.3
"""Difference of the two sides' areas, of the whole, at most."""
SHARES = 8
"""Ways to share pieces out that are laid out, those first that weigh most alike."""
TALLEST_COLUMN = 3
WAYS = 6
"""Boxes of one side that are tried."""
PLACED = 16
"""Two sides together that are placed, those first that are as high as each other."""


@dataclass(frozen=True, slots=True, eq=False)
class _Half:
    """One side's pieces about (0, 0), their width and height."""

    index: list[int]
    centres: Centres
    width: float
    height: float


def _shares(setting: Setting) -> list[tuple[list[int], list[int]]]:
    """Ways to share the pieces out that weigh about the same, the most alike first."""
    everything, areas = range(setting.count), np.prod(setting.sizes, axis=1)
    ways: dict[tuple[tuple[float, ...], ...], tuple[float, list[int], list[int]]] = {}
    for many in range(1, setting.count):
        for some in combinations(everything, many):
            rest = [k for k in everything if k not in some]
            off = abs(float(areas[list(some)].sum() - areas[rest].sum())) / float(areas.sum())
            if off <= MOST_UNLIKE:
                key = tuple(tuple(setting.sizes[k].tolist()) for k in some)
                ways.setdefault(key, (off, list(some), rest))
    ordered = sorted(ways.values(), key=lambda way: (round(way[0], 6), way[1]))
    return [(some, rest) for _, some, rest in ordered[:SHARES]]


def _laid_out(setting: Setting, index: list[int]) -> list[_Half]:
    """Columns, rows and boxes of one side's pieces."""
    sizes, gap, count = setting.sizes[index], setting.gap_mm, len(index)
    found: list[Centres] = []
    upward = tuple(sorted(range(count), key=lambda k: (-sizes[k].prod(), k)))
    if count <= TALLEST_COLUMN:
        found.append(line_up(sizes, upward, gap, 1, 0.0))
    if 2 <= count <= TALLEST_COLUMN:
        found += [line_up(sizes, order, gap, 0, 0.0) for order in (upward, upward[::-1])]
    if count >= 3:
        masses = setting.masses[index]
        pieces = tuple(setting.pieces[k] for k in index)
        half = replace(setting, pieces=pieces, sizes=sizes, masses=masses / masses.mean(),
                       labs=None)  # fmt: skip
        boxes = [centres for part in sliced(half)[:3] for centres in realised(part, half)]
        found += boxes[:WAYS]
    out = []
    for centres in found:
        middle = centred_half(centres, setting, index)
        own = setting.sizes[index] / 2
        width, height = ((middle + own).max(axis=0) - (middle - own).min(axis=0)).tolist()
        out.append(_Half(index, middle, width, height))
    return out


def _placed(one: _Half, two: _Half, item: Flanked, setting: Setting) -> Iterator[Layout]:
    """Place one half to the left of an object and the other to the right, as far from it."""
    bounds = setting.space.bounds
    x, half = item.rect.centre_mm[0], item.rect.width_mm / 2
    y = level_beside(item, setting, max(one.height, two.height))
    tries = [(away, away) for away in distances_to_try(item, setting, max(one.width, two.width))]
    alcoves = (item.rect.left_mm - bounds.left_mm, bounds.right_mm - item.rect.right_mm)
    if tries and parts_alcoves(item, setting):
        tries.append(((alcoves[0] - one.width) / 2, (alcoves[1] - two.width) / 2))
    for left, right in tries:
        centres = np.zeros((setting.count, 2))
        centres[one.index] = one.centres + (x - half - left - one.width / 2, y)
        centres[two.index] = two.centres + (x + half + right + two.width / 2, y)
        rects = [Rect(float(a), float(b), float(c - a), float(d - b))
                 for a, b, c, d in setting.boxes(centres)]  # fmt: skip
        words = f"about as much either side of the {item.name}"
        yield Layout(centres, words, True, flank_context(rects, setting))


def _balanced_halves(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    both = [
        (one, two)
        for some, rest in _shares(setting)
        for one in _laid_out(setting, some)
        for two in _laid_out(setting, rest)
    ]
    both.sort(key=lambda pair: (
        round(abs(pair[0].height - pair[1].height) + abs(pair[0].width - pair[1].width), 3)
    ))  # fmt: skip
    for item in _parted_by(setting):
        for one, two in both[:PLACED]:
            yield from _placed(one, two, item, setting)
            yield from _placed(two, one, item, setting)


def _suits(setting: Setting) -> bool:
    some = 2 <= setting.count <= MOST_SHARED and not floor_rise(setting.survey.outline)
    return some and pairs_of_all(setting) is None and bool(_parted_by(setting))


def _parted_by(setting: Setting) -> list[Flanked]:
    """Give what parts unlike pieces: no bed or fireplace, which they would leave bare."""
    return [item for item in flanked_objects(setting) if not item.low]


BALANCED_HALVES = Family(
    "balanced halves",
    "two to eight unlike pieces with an object or a corner between them, weighing alike",
    _suits,
    _balanced_halves,
)

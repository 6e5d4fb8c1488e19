"""Pieces in one line: single, pair, row, column, and the triptych with a larger centre."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice, permutations

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.appearance import disorder
from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.furnishings import rail_height
from visualiser.arrangement.measures import MeasuringContext
from visualiser.arrangement.setting import Centres, Setting

MOST_ORDERS = 120
"""Orders tried in a line of mixed sizes: every order of five pieces."""

LEAST_ORDERS = 4
"""Orders tried at least."""
MORE_DISORDER = 0.1
"""Disorder beyond the least at which an order is still tried."""

Order = tuple[int, ...]


def line_up(
    sizes: NDArray[np.float64], order: Order, gap_mm: float, axis: int, align: float
) -> Centres:
    """Centres (N, 2) of pieces in a line from the left (axis 0) or from below (axis 1).

    ``align`` is where the cross edges meet: -1 bottoms (lefts), 0 centres, 1 tops (rights).
    """
    centres = np.zeros_like(sizes)
    along = 0.0
    for index in order:
        length = sizes[index, axis]
        centres[index, axis] = along + length / 2
        centres[index, 1 - axis] = -align * sizes[index, 1 - axis] / 2
        along += length + gap_mm
    return centres


def orders(sizes: NDArray[np.float64], along: int = 0) -> Iterator[Order]:
    """Orders worth trying, without those that only swap equal sizes.

    Those come first, and are kept, in which the line is the same from both ends, or rises to its
    middle and falls; of up to five pieces out of every order.
    """
    count = len(sizes)
    kinds = [tuple(size) for size in sizes.tolist()]
    every: dict[tuple[tuple[float, ...], ...], Order] = {}
    first = [mirrored_order(sizes[:, 1 - along])]
    first += [_largest_inside(count, flip=False), _largest_inside(count, flip=True)]
    first += [tuple(range(count)), tuple(reversed(range(count)))]
    more = permutations(range(count)) if count <= 5 else iter(())
    for order in (*first, *islice(more, MOST_ORDERS)):
        every.setdefault(tuple(kinds[i] for i in order), order)
    across = sizes[:, 1 - along]
    found = sorted(every.values(), key=lambda order: round(float(disorder(across[list(order)])), 6))
    least = disorder(across[list(found[0])])
    for number, order in enumerate(found):
        if number >= LEAST_ORDERS and disorder(across[list(order)]) > least + MORE_DISORDER:
            break
        yield order


def mirrored_order(heights: NDArray[np.float64], *, falling: bool = True) -> Order:
    """Order a row so that what is as far from either end is about as tall.

    The tallest pair is inside, or outside where it does not fall to its ends; of an odd number
    one that leaves the others best paired is in the middle.
    """
    rising = np.argsort(heights, kind="stable").tolist()
    middle: list[int] = []
    if len(rising) % 2:
        apart = [
            np.abs(np.diff(np.delete(heights[rising], k))[::2]).sum() for k in range(len(rising))
        ]
        # Of several that do as well the tallest.
        best = np.flatnonzero(np.round(apart, 6) == np.round(min(apart), 6))
        middle = [rising.pop(int(best[-1]))]
    pairs = [rising[k : k + 2] for k in range(0, len(rising), 2)]
    for left, right in pairs[::-1] if falling else pairs:
        middle = [left, *middle, right]
    return tuple(middle)


def _largest_inside(count: int, *, flip: bool) -> Order:
    """From the middle outward in falling size, to both sides in turn."""
    line: list[int] = []
    for index in range(count):
        if (index % 2 == 0) == flip:
            line.insert(0, index)
        else:
            line.append(index)
    return tuple(line)


def gaps_to_try(setting: Setting, lengths: float, gaps: int) -> list[float]:
    """Gaps for a line so long without them: the one aimed at, and one that suits the furniture.

    Where the line is a little short of, or beyond, the usual share of the furniture's width, its
    gaps open or close between their limits.
    """
    rules, below = setting.guidelines, setting.space.furniture
    out = [setting.gap_mm]
    if below is None or gaps < 1:
        return out
    width = lengths + gaps * setting.gap_mm
    low, high = (share * below.rect.width_mm
                 for share in (rules.furniture_share_min, rules.furniture_share_max))  # fmt: skip
    if not low <= width <= high:
        wanted = ((low if width < low else high) - lengths) / gaps
        if rules.gap_min_mm <= wanted <= rules.gap_max_mm:
            out.append(wanted)
    return out


def _single(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    yield Layout(np.zeros((setting.count, 2)))


def _row(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    level = np.ptp(setting.sizes[:, 1]) < 1e-9
    aligns = ((0.0, "centres level"), (1.0, "tops level"), (-1.0, "bottoms level"))
    for gap in gaps_to_try(setting, float(setting.sizes[:, 0].sum()), setting.count - 1):
        for align, words in aligns[: 1 if level else 3]:
            for order in orders(setting.sizes):
                centres = line_up(setting.sizes, order, gap, 0, align)
                yield Layout(centres, words, context=MeasuringContext(gap_mm=gap))


def _triptych(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    for gap in gaps_to_try(setting, float(setting.sizes[:, 0].sum()), 2):
        for order in ((1, 0, 2), (2, 0, 1)):
            centres = line_up(setting.sizes, order, gap, 0, 0.0)
            yield Layout(centres, "centres level", context=MeasuringContext(gap_mm=gap))


ON_CORDS = MeasuringContext(kind="rail")


def _on_cords(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    """Lay out a row below the rail, or columns of two that share their cords."""
    level = np.ptp(setting.sizes[:, 1]) < 1e-9
    if setting.count <= 8:
        for align, words in ((0.0, "centres level"), (1.0, "tops level"))[: 1 if level else 2]:
            for order in orders(setting.sizes):
                centres = line_up(setting.sizes, order, setting.gap_mm, 0, align)
                yield Layout(centres, f"{words}, on cords", context=ON_CORDS)
    if setting.count >= 4 and setting.count % 2 == 0:
        for centres in two_high(setting):
            yield Layout(centres, "two on a cord", context=ON_CORDS)


def two_high(setting: Setting) -> Iterator[Centres]:
    """Columns of two pieces of like width; one piece is left alone where the number is odd.

    That is the tallest, which comes nearest to two of the others.
    """
    sizes, gap = setting.sizes, setting.gap_mm
    alone = [int(np.argmax(sizes[:, 1]))] if setting.count % 2 else []
    rest = sorted(set(range(setting.count)) - set(alone), key=lambda i: -sizes[i, 0])
    columns = [rest[k : k + 2] for k in range(0, len(rest), 2)] + [[i] for i in alone]
    outer = np.array([(sizes[c, 0].max(), sizes[c, 1].sum() + gap * (len(c) - 1)) for c in columns])
    for order in orders(outer):
        middles = line_up(outer, order, gap, 0, 0.0)
        for flip in (1, -1):
            centres = np.empty_like(sizes)
            for column, middle in zip(columns, middles, strict=True):
                stack = line_up(sizes[column], tuple(range(len(column))[::flip]), gap, 1, 0.0)
                bottom = (stack[:, 1] - sizes[column, 1] / 2).min()
                height = (stack[:, 1] + sizes[column, 1] / 2).max() - bottom
                centres[column] = stack + middle - (0.0, bottom + height / 2)
            yield centres


def _flanked(setting: Setting) -> bool:
    """Whether there is one larger piece and two equal ones."""
    if setting.count != 3:
        return False
    sizes = setting.sizes
    return bool(
        np.abs(sizes[1] - sizes[2]).max() <= 1.0 and np.prod(sizes[0]) > 1.1 * np.prod(sizes[1])
    )


def _column(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    level = np.ptp(setting.sizes[:, 0]) < 1e-9
    aligns = ((0.0, "centres plumb"), (-1.0, "left edges plumb"), (1.0, "right edges plumb"))
    for align, words in aligns[: 1 if level else 3]:
        for order in orders(setting.sizes, along=1):
            yield Layout(line_up(setting.sizes, order, setting.gap_mm, 1, align), words)


SINGLE = Family("single", "one piece", lambda s: s.count == 1, _single)
PAIR = Family("pair", "two pieces, side by side", lambda s: s.count == 2, _row, "across")
ROW = Family(
    "row", "three pieces or more, best of like height", lambda s: 3 <= s.count <= 12, _row, "across"
)
COLUMN = Family(
    "column",
    "two to five pieces, best of like width",
    lambda s: 2 <= s.count <= 5,
    _column,
    "upright",
)
PICTURE_RAIL = Family(
    "picture rail",
    "two to twelve pieces on cords from a picture rail",
    lambda s: 2 <= s.count <= 12 and rail_height(s.survey, s.guidelines) is not None,
    _on_cords,
)
TRIPTYCH = Family("triptych", "one larger piece and two equal ones", _flanked, _triptych, "across")

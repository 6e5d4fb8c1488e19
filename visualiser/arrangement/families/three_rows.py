"""Mixed sizes in three rows, like heights in the middle and the others rising from it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from visualiser.arrangement.families.family import Family, Layout, same_size
from visualiser.arrangement.families.two_rows import WASTE, Chosen, row_of, row_orders, subsets
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.setting import Centres, Setting

FEWEST, MOST = 7, 14
SHARES = 16
"""Ways to share pieces out that are laid out, those first that waste least."""
LIKE = 0.85
"""Height of the lowest over that of the tallest piece of the middle row."""
MIDDLES = 40
"""Middle rows that the others are shared out about, those first that waste least."""
MIDDLE_ORDERS = 2


def _length_and_waste(row: Chosen, setting: Setting) -> tuple[Floats, Floats, Floats]:
    """Length of rows (K, N), height of the tallest in each, and the area that they leave of it."""
    width, height = setting.sizes.T
    length = row @ (width + setting.gap_mm) - setting.gap_mm
    tallest = np.where(row, height, 0.0).max(axis=1)
    return length, tallest, np.asarray(row @ width * tallest - row @ (width * height))


def _middles(setting: Setting) -> Chosen:
    """Rows of like height, those first that leave least of it open; of the same sizes one."""
    rows = subsets(setting.count, 2)
    rows = rows[rows.sum(axis=1) <= setting.count - 4]
    height = setting.sizes[:, 1]
    _, tallest, waste = _length_and_waste(rows, setting)
    lowest = np.where(rows, height, np.inf).min(axis=1)
    heavy = (rows @ setting.masses) / rows.sum(axis=1) >= 1.0
    fits = (lowest >= LIKE * tallest) & heavy
    rows, share = rows[fits], waste[fits] / setting.sizes.prod(axis=1).sum()
    seen: dict[tuple[tuple[float, ...], ...], int] = {}
    for k in np.argsort(np.round(share, 6), kind="stable").tolist():
        seen.setdefault(tuple(map(tuple, setting.sizes[rows[k]].tolist())), k)
        if len(seen) == MIDDLES:
            break
    return np.asarray(rows[list(seen.values())])


def _shares(setting: Setting) -> list[tuple[list[int], list[int], list[int]]]:
    """Share pieces out to the lower, middle and upper row, the least waste first.

    Waste is what a row's pieces leave of its height, and what shorter rows leave at their ends.
    """
    slack = setting.guidelines.gap_max_mm - setting.gap_mm
    area = float(setting.sizes.prod(axis=1).sum())
    found: list[tuple[float, Chosen]] = []
    for middle in _middles(setting):
        others = np.flatnonzero(~middle)
        chosen = subsets(len(others), 2)
        upper = np.zeros((len(chosen), setting.count), np.bool_)
        upper[:, others] = chosen
        lower = ~upper & ~middle
        below = upper @ setting.masses <= lower @ setting.masses + 1e-9
        rows = np.stack([lower[below], np.broadcast_to(middle, lower[below].shape), upper[below]])
        parts = [_length_and_waste(row, setting) for row in rows]
        longest = np.max([length for length, _, _ in parts], axis=0)
        # No waist: the middle row is about the longest, or opens to the others' length.
        reach = parts[1][0] + slack * (middle.sum() - 1) + setting.gap_mm
        waste = np.where(reach >= longest, 0.0, np.inf)
        for row, (length, tallest, open_) in zip(rows, parts, strict=True):
            short = np.maximum(longest - length - slack * (row.sum(axis=1) - 1), 0.0)
            waste += open_ + short * tallest
        best = np.argsort(np.round(waste / area, 6), kind="stable")[:SHARES]
        found += [(float(waste[k] / area), rows[:, k]) for k in best if waste[k] <= WASTE * area]
    found.sort(key=lambda item: round(item[0], 6))
    out: dict[tuple[object, ...], tuple[list[int], list[int], list[int]]] = {}
    for _, rows in found:
        kinds = tuple(tuple(map(tuple, setting.sizes[row].tolist())) for row in rows)
        one, two, three = (np.flatnonzero(row).tolist() for row in rows)
        out.setdefault(kinds, (one, two, three))
        if len(out) == SHARES:
            break
    return list(out.values())


def _three_rows(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    gap, sizes = setting.gap_mm, setting.sizes
    for lower, middle, upper in _shares(setting):
        longest = max(float((sizes[row, 0] + gap).sum()) - gap for row in (lower, middle, upper))
        away = float(sizes[middle, 1].max()) / 2 + gap
        for two in list(row_orders(setting, middle))[:MIDDLE_ORDERS]:
            for one in row_orders(setting, lower):
                for three in row_orders(setting, upper):
                    centres: Centres = np.empty((setting.count, 2))
                    centres[one] = row_of(setting, one, longest, 1.0) - (0.0, away)
                    centres[two] = row_of(setting, two, longest, 0.0)
                    centres[three] = row_of(setting, three, longest, -1.0) + (0.0, away)
                    yield Layout(centres, "about a level row")


THREE_ROWS = Family(
    "three rows",
    "seven to fourteen pieces of mixed sizes that share out to three rows of one length",
    lambda s: FEWEST <= s.count <= MOST and not same_size(s),
    _three_rows,
)

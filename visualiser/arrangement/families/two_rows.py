"""Mixed sizes in two rows that meet along one level line, as long as each other."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.families.family import Family, Layout, same_size
from visualiser.arrangement.families.lines import line_up, mirrored_order
from visualiser.arrangement.setting import Centres, Setting

FEWEST, MOST = 4, 14
SHARES = 24
"""Ways to share pieces out to the rows that are laid out, those first that waste least."""
WASTE = 0.45
"""Area between a row's pieces and its full height, of the pieces' own, at most."""

Rows = tuple[list[int], list[int]]
Chosen = NDArray[np.bool_]


def subsets(count: int, least: int) -> Chosen:
    """Give every choice (K, N) of pieces with at least so many in it and out of it."""
    codes = np.arange(1, 1 << count)
    chosen = (codes[:, None] >> np.arange(count)) & 1 > 0
    many = chosen.sum(axis=1)
    return np.asarray(chosen[(many >= least) & (many <= count - least)])


def _shares(setting: Setting) -> list[Rows]:
    """Share pieces out to an upper and a lower row, the heavier below, the least waste first.

    Waste is what a row's pieces leave of its height, and what the shorter row leaves at its ends.
    """
    count, gap = setting.count, setting.gap_mm
    above = subsets(count, 2)
    width, height = setting.sizes.T
    mass = setting.masses
    above = above[(above @ mass <= (~above) @ mass + 1e-9)]
    if not len(above):
        return []
    lengths, waste = [], np.zeros(len(above))
    for row in (above, ~above):
        lengths.append(row @ (width + gap) - gap)
        tallest = np.where(row, height, 0.0).max(axis=1)
        waste += lengths[-1] * tallest - row @ (width * height)
    slack = setting.guidelines.gap_max_mm - gap
    apart = np.abs(lengths[0] - lengths[1])
    apart = np.maximum(apart - slack * (np.minimum(above.sum(axis=1), count) - 1), 0.0)
    waste = (waste + apart * height.max()) / float((width * height).sum())
    out: dict[tuple[tuple[float, float], ...], Rows] = {}
    for k in np.argsort(np.round(waste, 6), kind="stable"):
        if waste[k] > WASTE or len(out) == SHARES:
            break
        upper = np.flatnonzero(above[k]).tolist()
        kinds = tuple(tuple(size) for size in setting.sizes[upper].tolist())
        out.setdefault(kinds, (upper, np.flatnonzero(~above[k]).tolist()))
    return list(out.values())


def row_orders(setting: Setting, row: list[int]) -> Iterator[list[int]]:
    """Order a row: like heights as far from either end; the tallest, or the widest, inside."""
    yield [row[k] for k in mirrored_order(setting.sizes[row, 1])]
    for axis in (1, 0):
        falling = sorted(row, key=lambda k: (-setting.sizes[k, axis], -setting.sizes[k].prod(), k))
        inside: list[int] = []
        for place, index in enumerate(falling):
            inside = [*inside, index] if place % 2 == 0 else [index, *inside]
        yield inside
        yield inside[::-1]


def row_of(
    setting: Setting, order: list[int], length_mm: float, align: float
) -> NDArray[np.float64]:
    """Lay a row out about (0, 0), its gaps opened to a length as far as the rules allow."""
    rules, sizes = setting.guidelines, setting.sizes[order]
    wanted = (length_mm - float(sizes[:, 0].sum())) / (len(order) - 1)
    gap = min(max(wanted, setting.gap_mm), rules.gap_max_mm)
    centres = line_up(sizes, tuple(range(len(order))), gap, 0, align)
    low = (centres[:, 0] - sizes[:, 0] / 2).min()
    high = (centres[:, 0] + sizes[:, 0] / 2).max()
    centres[:, 0] -= (low + high) / 2
    return np.asarray(centres)


def _two_rows(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    gap = setting.gap_mm
    for upper, lower in _shares(setting):
        lengths = [float((setting.sizes[row, 0] + gap).sum()) - gap for row in (upper, lower)]
        for one in row_orders(setting, upper):
            for two in row_orders(setting, lower):
                centres: Centres = np.empty((setting.count, 2))
                centres[one] = row_of(setting, one, max(lengths), -1.0) + (0.0, gap / 2)
                centres[two] = row_of(setting, two, max(lengths), 1.0) - (0.0, gap / 2)
                yield Layout(centres, "either side of a level line")


TWO_ROWS = Family(
    "two rows",
    "four to fourteen pieces of mixed sizes that share out to two rows of one length",
    lambda s: FEWEST <= s.count <= MOST and not same_size(s),
    _two_rows,
)

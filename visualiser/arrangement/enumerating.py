"""Every way to build a small group, but for those that a bound shows to be worse.

Groups grow by one piece at a time, in every order, each new piece at a normal place. Shifting a
group, turning it over or exchanging equal sizes changes no score, so of such groups one is kept.
An outline only grows, so the best outline from there on bounds what a group can become, and
those that cannot beat what is found already are left (branch and bound: Land and Doig,
Econometrica 28(3):497, 1960).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.measures import (
    LEAST_FACING,
    Floats,
    Measured,
    measure,
    measure_outline,
)
from visualiser.arrangement.scoring import (
    FULL_LEAN,
    deviation_of_mass,
    group_terms,
    proportion,
    weighted,
)
from visualiser.arrangement.setting import Centres, Setting

MOST_ENUMERATED = 5
"""Sets up to this size are built in every way."""
CELLS = 96
"""Steps of width, and of height, in which the bound is tabulated."""
FINE = 50
"""Samples of the proportion within one step of width."""
BATCH = 1500
"""Groups scored at once, the most promising first."""
HAIR = 1e-6

Chosen = tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """What is looked for.

    Parameters
    ----------
    setting
        Pieces, wall and rules.
    limits
        (2,) greatest width and height.
    weights
        Weights of the terms.
    """

    setting: Setting
    limits: Floats
    weights: Mapping[str, float]

    def scores(self, m: Measured) -> Floats:
        """Score (K,) of whole groups."""
        return weighted(group_terms(m) | {"proportion": proportion(m, self.setting)}, self.weights)

    def lost_by(self, lean: Floats) -> Floats:
        """Points that leaning masses (..., 2) cost a whole group."""
        names = (*group_terms(_outlined(np.ones((1, 2)))), "proportion")
        share = self.weights.get("balance", 0.0) / sum(self.weights.get(n, 0.0) for n in names)
        return 100 * share * np.minimum(deviation_of_mass(lean) / FULL_LEAN, 1)


def best_groups(task: Task, above: float, keep: int) -> list[Centres]:
    """Give the best groups (N, 2) there are that score more than ``above``, best first."""
    setting = task.setting
    outlook = _Outlook.of(task)
    kinds = [tuple(size) for size in setting.sizes.tolist()]
    level: dict[Chosen, Centres] = {
        (kinds.index(kind),): np.zeros((1, 1, 2)) for kind in dict.fromkeys(kinds)
    }
    for _ in range(1, setting.count):
        grown: dict[Chosen, list[Centres]] = {}
        for chosen, groups in level.items():
            left = {kinds[i]: i for i in range(setting.count - 1, -1, -1) if i not in chosen}
            for new in left.values():
                rows = (*chosen, new)
                made = _extended(task, outlook, groups, rows, above)
                order = np.argsort(rows)
                grown.setdefault(tuple(sorted(rows)), []).append(made[:, order])
        level = {
            chosen: _distinct(np.concatenate(parts), setting.sizes[list(chosen)])
            for chosen, parts in grown.items()
        }
    return _best(task, next(iter(level.values())), above, keep)


@dataclass(frozen=True, slots=True, eq=False)
class _Outlook:
    """The most that a group can score, by the width and height that it has already.

    Parameters
    ----------
    step
        (2,) width and height of a cell, mm.
    within, beyond
        (CELLS, CELLS) greatest score of any outline in a cell, and in it or larger.
    """

    step: Floats
    within: Floats
    beyond: Floats

    @classmethod
    def of(cls, task: Task) -> _Outlook:
        """Tabulate, each term at its best within a cell."""
        setting = task.setting
        whole = (setting.sizes + setting.gap_mm).sum(axis=0)
        step = np.minimum(whole, task.limits) / CELLS + HAIR
        edges = np.arange(CELLS + 1)[:, None] * step
        low = np.stack(np.meshgrid(*edges[:-1].T, indexing="ij"), axis=-1).reshape(-1, 2)
        high = low + step
        area = float(np.prod(setting.sizes + setting.gap_mm, axis=1).sum())
        ratio = np.clip(1.2, low[:, 0] / high[:, 1], high[:, 0] / np.maximum(low[:, 1], HAIR))
        terms = group_terms(_outlined(np.stack([ratio, np.ones_like(ratio)], axis=1)))
        terms["compact outline"] = np.minimum(area / np.prod(low + setting.gap_mm, axis=1), 1)
        widths = np.arange(CELLS * FINE + 1) * step[0] / FINE
        suits = proportion(_outlined(np.stack([widths, np.ones_like(widths)], axis=1)), setting)
        suits = np.maximum(suits[:-1].reshape(CELLS, FINE).max(axis=1), suits[FINE::FINE])
        terms["proportion"] = np.repeat(suits, CELLS)
        within = weighted(terms, task.weights).reshape(CELLS, CELLS)
        beyond = np.maximum.accumulate(within[::-1, ::-1], axis=0)
        return cls(step, within, np.maximum.accumulate(beyond, axis=1)[::-1, ::-1])

    def bound(self, width: Floats, height: Floats, *, whole: bool) -> Floats:
        """Bound for groups that are so wide and tall, and whole or still to grow."""
        across = np.minimum((width / self.step[0]).astype(np.intp), CELLS - 1)
        upright = np.minimum((height / self.step[1]).astype(np.intp), CELLS - 1)
        return np.asarray((self.within if whole else self.beyond)[across, upright])


def _outlined(size: Floats) -> Measured:
    """Give measures of groups of which the outline (K, 2) is known, the rest at their best."""
    none = np.zeros(len(size))
    lean = np.zeros((len(size), 2))
    return Measured(none, none + 1, none + 1, none, lean, none, size, lean, none + np.nan)


def _extended(
    task: Task, outlook: _Outlook, groups: Centres, rows: Chosen, above: float
) -> Centres:
    """Every group (M, k + 1, 2) that one more piece, the last of ``rows``, makes of groups."""
    setting = task.setting
    gap, least = setting.gap_mm, setting.guidelines.gap_min_mm
    half, own = setting.sizes[list(rows[:-1])] / 2, setting.sizes[rows[-1]] / 2
    reach, flush = half + own, half - own
    low, high = (groups - half).min(axis=1), (groups + half).max(axis=1)
    whole = len(rows) == setting.count
    masses = setting.masses[list(rows)] / setting.masses[list(rows)].sum()
    mass, moment = masses[-1], (groups * masses[:-1, None]).sum(axis=1)
    touch, align = [], []
    for axis in (0, 1):
        at = groups[..., axis]
        away = reach[:, axis] + gap
        touch.append(np.concatenate([at - away, at + away], axis=1))
        align.append(np.stack([at + s * flush[:, axis] for s in (-1, 0, 1)], axis=2))
    # Touching one piece across and aligned with it, or touching another upright; and turned over.
    tied = [np.concatenate([align[k], align[k]], axis=1) for k in (0, 1)]
    found = [
        _pairs(touch[0][:, :, None], np.concatenate([tied[1], _beside(touch)], axis=2)),
        _pairs(tied[0], touch[1][:, :, None]),
    ]
    out = []
    for x, y in found:
        left, right = np.minimum(low[:, :1], x - own[0]), np.maximum(high[:, :1], x + own[0])
        bottom, top = np.minimum(low[:, 1:], y - own[1]), np.maximum(high[:, 1:], y + own[1])
        width, height = right - left, top - bottom
        fits = (width <= task.limits[0] + HAIR) & (height <= task.limits[1] + HAIR)
        bound = outlook.bound(width, height, whole=whole)
        if whole:
            lean_x = (moment[:, :1] + mass * x - (left + right) / 2) / width
            lean_y = (moment[:, 1:] + mass * y - (bottom + top) / 2) / height
            bound = bound - task.lost_by(np.stack([lean_x, lean_y], axis=-1))
        group, place = np.nonzero(fits & (bound > above))
        new = np.stack([x[group, place], y[group, place]], axis=1)
        hung = groups[group]
        clear = np.abs(new[:, None] - hung) - reach
        facing = clear < -2 * LEAST_FACING * np.minimum(half, own)
        met = np.abs(clear - gap) < HAIR
        joined = (met[..., 0] & facing[..., 1]) | (met[..., 1] & facing[..., 0])
        good = (clear.max(axis=2) >= least - HAIR).all(axis=1) & joined.any(axis=1)
        out.append(np.concatenate([hung[good], new[good, None]], axis=1))
    return np.concatenate(out)


def _beside(touch: list[Floats]) -> Floats:
    """Every height at a gap from some piece, for each place across at a gap from one."""
    groups, count = touch[0].shape
    return np.broadcast_to(touch[1][:, None, :], (groups, count, count))


def _pairs(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Flat places (G, C) of every x with its ys, or the other way round."""
    x, y = np.broadcast_arrays(x, y)
    return x.reshape(len(x), -1), y.reshape(len(y), -1)


def _distinct(groups: Centres, sizes: Floats) -> Centres:
    """Keep one of the groups that a shift, a turn or an exchange of equal sizes makes the same."""
    if not len(groups):
        return groups
    low = (groups - sizes / 2).min(axis=1)
    groups = groups - low[:, None]
    far = (groups + sizes / 2).max(axis=1)[:, None]
    kinds = np.unique(sizes, axis=0, return_inverse=True)[1].reshape(-1).astype(np.uint64)
    sides = [[_tenths(groups[..., k]), _tenths(far[..., k] - groups[..., k])] for k in (0, 1)]
    keys = [
        _mixed((kinds << np.uint64(56)) | (x << np.uint64(28)) | y).sum(axis=1)
        for x, y in product(*sides)
    ]
    _, first = np.unique(np.min(keys, axis=0), return_index=True)
    return np.asarray(groups[np.sort(first)])


def _tenths(at: Floats) -> NDArray[np.uint64]:
    """Tenths of a millimetre; the odd shift keeps sums of halves and quarters off the border."""
    return np.asarray((at * 10 + 0.37).astype(np.uint64))


def _mixed(words: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Scatter words over 64 bits, so that their sum tells sets of words apart.

    References
    ----------
    Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014, fig. 16.
    """
    words = (words ^ (words >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    words = (words ^ (words >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(words ^ (words >> np.uint64(31)))


def _best(task: Task, groups: Centres, above: float, keep: int) -> list[Centres]:
    """Score whole groups, the most promising first, until none that is left can be better."""
    setting = task.setting
    args = (setting.sizes, setting.masses, setting.gap_mm)
    hope = task.scores(measure_outline(groups, *args))
    order = np.argsort(-hope, kind="stable")
    found: list[tuple[float, int]] = []
    for start in range(0, len(order), BATCH):
        some = order[start : start + BATCH]
        if hope[some[0]] <= above:
            break
        scores = task.scores(measure(groups[some], *args))
        found += [(float(scores[k]), int(some[k])) for k in np.flatnonzero(scores > above)]
        found = sorted(found, key=lambda item: (-item[0], item[1]))[:keep]
        if len(found) == keep:
            above = found[-1][0]
    return [groups[index] for _, index in found]

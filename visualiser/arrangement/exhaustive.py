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

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.measures import Measured, measure
from visualiser.arrangement.neighbours import LEAST_FACING, Floats
from visualiser.arrangement.openings import largest_opening
from visualiser.arrangement.places import crossings, stops_beside
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
GOLDEN = 0.6180339887
"""Spreads the weights by which a group is distinguished from its mirror image."""

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
        return weighted(
            group_terms(m, self.setting) | {"proportion": proportion(m, self.setting)}, self.weights
        )

    def lost_by_lean(self, across: Floats, up: Floats) -> Floats:
        """Points that leaning masses (...) cost a whole group."""
        return self._points("balance") * np.minimum(deviation_of_mass(across, up) / FULL_LEAN, 1)

    def lost_by_opening(self, groups: Centres) -> Floats:
        """Points that the largest opening costs whole groups (K, N, 2)."""
        setting = self.setting
        piece = float(np.prod(setting.sizes + setting.gap_mm, axis=1).mean())
        opening = largest_opening(groups, setting.sizes, setting.gap_mm) / piece
        return self._points("closed outline") * np.minimum(opening, 1)

    def _points(self, name: str) -> float:
        """Share of a term in the score of a whole group, of 100."""
        names = (*group_terms(_outlined(np.ones((1, 2))), self.setting), "proportion")
        return 100 * self.weights.get(name, 0.0) / sum(self.weights.get(n, 0.0) for n in names)


def best_groups(task: Task, above: float, keep: int) -> list[Centres]:
    """Give the best groups (N, 2) there are that score more than ``above``, best first."""
    outlook, kinds = _Outlook.of(task), _kinds(task.setting)
    level: dict[Chosen, Centres] = {
        (kinds.index(kind),): np.zeros((1, 1, 2)) for kind in dict.fromkeys(kinds)
    }
    for _ in range(2, task.setting.count):
        grown = _next_level(task, outlook, level, above)
        level = {}
        for chosen, parts in grown.items():
            groups = _Grown.joined(parts).centres
            level[chosen] = groups[_distinct(groups, task.setting.sizes[list(chosen)])]
    grown = _next_level(task, outlook, level, above)
    return _best(task, _Grown.joined([g for made in grown.values() for g in made]), above, keep)


def _kinds(setting: Setting) -> list[tuple[float, ...]]:
    return [tuple(size) for size in setting.sizes.tolist()]


def _next_level(
    task: Task, outlook: _Outlook, level: Mapping[Chosen, Centres], above: float
) -> dict[Chosen, list[_Grown]]:
    """Grow groups by one piece of each size that is left."""
    kinds = _kinds(task.setting)
    grown: dict[Chosen, list[_Grown]] = {}
    for chosen, groups in level.items():
        left = {kinds[i]: i for i in range(task.setting.count - 1, -1, -1) if i not in chosen}
        for new in left.values():
            rows = (*chosen, new)
            made = _extended(task, outlook, groups, rows, above)
            grown.setdefault(tuple(sorted(rows)), []).append(made.in_order(rows))
    return grown


@dataclass(frozen=True, slots=True, eq=False)
class _Grown:
    """Groups (M, k, 2) and the most that each (M,) can score."""

    centres: Centres
    hope: Floats

    @classmethod
    def joined(cls, parts: list[_Grown]) -> _Grown:
        """All groups of several."""
        return cls(
            np.concatenate([p.centres for p in parts]), np.concatenate([p.hope for p in parts])
        )

    def in_order(self, rows: Chosen) -> _Grown:
        """Put pieces in their setting's order."""
        return _Grown(self.centres[:, np.argsort(rows)], self.hope)


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
        terms = group_terms(_outlined(np.stack([ratio, np.ones_like(ratio)], axis=1)), setting)
        terms["compact outline"] = np.minimum(
            area / np.maximum(np.prod(low + setting.gap_mm, axis=1), HAIR), 1
        )
        widths = np.arange(CELLS * FINE + 1) * step[0] / FINE
        suits = proportion(_outlined(np.stack([widths, np.ones_like(widths)], axis=1)), setting)
        suits = np.maximum(suits[:-1].reshape(CELLS, FINE).max(axis=1), suits[FINE::FINE])
        terms["proportion"] = np.repeat(suits, CELLS)
        within = weighted(terms, task.weights).reshape(CELLS, CELLS)
        beyond = np.maximum.accumulate(within[::-1, ::-1], axis=0)
        return cls(step, within, np.maximum.accumulate(beyond, axis=1)[::-1, ::-1])

    def cells(self, extent: Floats, axis: int, limit: float) -> NDArray[np.intp]:
        """Which cell a width (axis 0) or height falls in; beyond the last where it is too much."""
        cell = np.minimum(extent / self.step[axis], CELLS - 1).astype(np.intp)
        return np.where(extent <= limit + HAIR, cell, CELLS)

    def bounds(self, *, whole: bool) -> Floats:
        """Bound by cell of width and of height, flat, for groups that are whole or still to grow.

        Nothing is to be hoped of groups that are too wide or too tall.
        """
        return np.pad(self.within if whole else self.beyond, (0, 1), constant_values=-1.0).ravel()


def _outlined(size: Floats) -> Measured:
    """Give measures of groups of which the outline (K, 2) is known, the rest at their best."""
    none = np.zeros(len(size))
    lean = np.zeros((len(size), 2))
    return Measured(none, none + 1, none + 1, none, lean, none, size, lean, none + np.nan, none + 1)


def _extended(task: Task, outlook: _Outlook, groups: Centres, rows: Chosen, above: float) -> _Grown:
    """Every group that one more piece, the last of ``rows``, makes of groups."""
    setting = task.setting
    gap, least = setting.gap_mm, setting.guidelines.gap_min_mm
    half, own = setting.sizes[list(rows[:-1])] / 2, setting.sizes[rows[-1]] / 2
    reach = half + own
    low, high = (groups - half).min(axis=1), (groups + half).max(axis=1)
    whole = len(rows) == setting.count
    stops = stops_beside(groups, half, own, gap)
    places, extents, cells = [], [], []
    for axis in (0, 1):
        place = np.ascontiguousarray(stops[..., axis])
        first = np.minimum(low[:, axis, None], place - own[axis])
        last = np.maximum(high[:, axis, None], place + own[axis])
        places.append(place)
        extents.append((first, last))
        cells.append(outlook.cells(last - first, axis, float(task.limits[axis])))
    across, upright = crossings(len(half))
    bound = outlook.bounds(whole=whole)[cells[0][:, across] * (CELLS + 1) + cells[1][:, upright]]
    group, place_of = np.nonzero(bound > above)
    hope = bound[group, place_of]
    chosen = [across[place_of], upright[place_of]]
    new = [places[axis][group, chosen[axis]] for axis in (0, 1)]
    if whole:
        masses = setting.masses[list(rows)] / setting.masses[list(rows)].sum()
        lean = []
        for axis in (0, 1):
            moment = groups[..., axis] @ masses[:-1]
            first, last = (end[group, chosen[axis]] for end in extents[axis])
            centre = moment[group] + masses[-1] * new[axis]
            lean.append((centre - (first + last) / 2) / (last - first))
        hope = hope - task.lost_by_lean(lean[0], lean[1])
        still = np.flatnonzero(hope > above)
        hope, group, new = hope[still], group[still], [x[still] for x in new]
    hung = groups[group]
    clear, joined = np.ones(len(hung), bool), np.zeros(len(hung), bool)
    for k, facing in enumerate(-2 * LEAST_FACING * np.minimum(half, own)):
        x, y = (np.abs(new[axis] - hung[:, k, axis]) - reach[k, axis] for axis in (0, 1))
        clear &= np.maximum(x, y) >= least - HAIR
        joined |= (np.abs(x - gap) < HAIR) & (y < facing[1])
        joined |= (np.abs(y - gap) < HAIR) & (x < facing[0])
    good = np.flatnonzero(clear & joined)
    last_one = np.stack([x[good] for x in new], axis=1)
    return _Grown(np.concatenate([hung[good], last_one[:, None]], axis=1), hope[good])


def _distinct(groups: Centres, sizes: Floats) -> NDArray[np.intp]:
    """Index of one of the groups that a shift, a turn or an exchange of sizes makes the same.

    Those that are the same either way by that measure may be kept twice, which costs only time.
    """
    if not len(groups):
        return np.zeros(0, np.intp)
    kinds = np.unique(sizes, axis=0, return_inverse=True)[1].reshape(-1)
    odd = 1 + (kinds * GOLDEN) % 1
    key = np.zeros(len(groups), np.uint64)
    sides = []
    for axis in (0, 1):
        at = [groups[:, k, axis] for k in range(len(sizes))]
        low = np.min([x - size / 2 for x, size in zip(at, sizes[:, axis], strict=True)], axis=0)
        high = np.max([x + size / 2 for x, size in zip(at, sizes[:, axis], strict=True)], axis=0)
        # Turned over where the sum of odd multiples lies beyond the middle.
        turned = groups[:, :, axis] @ odd > (low + high) / 2 * odd.sum()
        sides.append([np.where(turned, high - x, x - low) for x in at])
    for kind, x, y in zip(kinds.astype(np.uint64), *sides, strict=True):
        key += _mixed((kind << np.uint64(56)) | (_tenths(x) << np.uint64(28)) | _tenths(y))
    return np.sort(np.unique(key, return_index=True)[1])


def _tenths(at: Floats) -> NDArray[np.uint64]:
    """Tenths of a millimetre; the odd shift keeps sums of halves and quarters off the border."""
    return np.asarray((at * 10 + 0.37).astype(np.uint64))


def _mixed(words: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Scatter words over 64 bits, so that their sum differs for different sets of words.

    References
    ----------
    Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014, fig. 16.
    """
    words = (words ^ (words >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    words = (words ^ (words >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(words ^ (words >> np.uint64(31)))


def _best(task: Task, groups: _Grown, above: float, keep: int) -> list[Centres]:
    """Score whole groups in full where hope is left when their openings have been looked at."""
    setting = task.setting
    sizes = setting.sizes
    some = _distinct(groups.centres, sizes)
    some = some[np.argsort(-groups.hope[some], kind="stable")]
    found: list[tuple[float, int]] = []
    for start in range(0, len(some), BATCH):
        batch = some[start : start + BATCH]
        hope = groups.hope[batch] - task.lost_by_opening(groups.centres[batch])
        batch = batch[hope > above]
        if not len(batch):
            continue
        scores = task.scores(measure(groups.centres[batch], sizes, setting.masses, setting.gap_mm))
        found += [(float(scores[k]), int(batch[k])) for k in np.flatnonzero(scores > above)]
        found = sorted(found, key=lambda item: (-item[0], item[1]))[:keep]
        if len(found) == keep:
            above = max(above, found[-1][0])
    return [groups.centres[index] for _, index in found]

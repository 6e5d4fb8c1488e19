"""One more piece joins a group: all the places that it could have, for many groups at once.

What a group is measured by is for the most part a sum over its pairs of pieces, or its outline.
One more piece adds its own pairs and may stretch the outline; the rest stands. So the places that
it could have are scored from sums over what hangs, and what costs most time to find is found only
where a bound leaves a place hope of being the best.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.measures import FOCAL_SHARE, Measured, about_host, straight_between
from visualiser.arrangement.neighbours import Floats, Line, Neighbours, compare
from visualiser.arrangement.openings import opening_between, openings_by_side
from visualiser.arrangement.places import HAIR, normal_places_of_each
from visualiser.arrangement.problem import ALIKE, GroupScorer
from visualiser.arrangement.scoring import FULL_UNEVEN, weighted
from visualiser.arrangement.setting import Centres

LOOKED_AT_FIRST = 5
"""Places of each group that are looked at before the others."""
TIE = 1e-5
"""Points by which a place must fall short to be left out for certain, rounding included."""
Rows = NDArray[np.intp]
"""Which piece, by its number in the setting."""


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """Places for one more piece in each of P groups.

    Parameters
    ----------
    group
        (C,) the group that each place is for, in rising order.
    places
        (2, C) x and y of the new piece.
    scores
        (C,) score of the group with the piece there.
    ranks
        (C,) scores by which the places are compared.
    seen
        The groups' neighbours as they hang without it.
    """

    group: Rows
    places: Floats
    scores: Floats
    ranks: Floats
    seen: Neighbours

    def best_of_each(self, groups: int) -> Rows:
        """Index (P,) of the best place in each group; -1 where there is none."""
        table, counts, first = _by_group(self.group, np.round(self.ranks, ALIKE), groups)
        return np.where(counts > 0, first + table.argmax(axis=1), -1)

    def taken(self, chosen: Rows) -> tuple[Centres, Floats]:
        """Give chosen places (P, 2) and their scores (P,), -1 where none is chosen."""
        places, scores = np.zeros((len(chosen), 2)), np.full(len(chosen), -1.0)
        there = chosen >= 0
        places[there], scores[there] = self.places[:, chosen[there]].T, self.scores[chosen[there]]
        return places, scores

    def best_few(self, groups: int, few: int) -> Joined:
        """Keep the best few places of each group."""
        best = _most_promising(self.group, self.ranks, groups, few)
        return Joined(
            self.group[best], self.places[:, best], self.scores[best], self.ranks[best], self.seen
        )


def join(
    scorer: GroupScorer,
    rows: Rows,
    centres: Centres,
    new: Rows,
    *,
    most: int,
    wanted: Floats | None = None,
    best: int | None = None,
    noise: Callable[[Rows], Floats] | None = None,
    seen: Neighbours | None = None,
) -> Joined:
    """Find and score the normal places for one more piece in each of P groups.

    Parameters
    ----------
    scorer
        Scores them.
    rows, centres
        (P, K) pieces that hang and (P, K, 2) their centres.
    new
        (P,) the piece that joins each group.
    most
        Places looked at closely in each group: those that leave it the best outline.
    wanted
        (P,) scores that a place must lead to; others are left out.
    best
        Places wanted of each group, if only its best: others may be left out.
    noise
        Gives points to take off, by the group that each place is for, while places are compared.
    seen
        The groups' neighbours, where they are known.
    """
    setting = scorer.setting
    gap, gap_min = setting.gap_mm, setting.guidelines.gap_min_mm
    groups = _with_host(scorer, rows, centres, new)
    group, at = normal_places_of_each(
        groups.centres, groups.sizes / 2, groups.own / 2, gap, gap_min
    )
    low, high = _ends(groups, group, at)
    free = np.flatnonzero(_may_hang(scorer, groups, group, at, high - low))
    group, at, low, high = group[free], at[:, free], low[:, free], high[:, free]
    m = _outlined(groups, group, at, low, high, gap)
    if scorer.problem.host is not None:
        m = about_host(m, scorer.problem.host)
    terms = scorer.terms(m, whole=rows.shape[1] + 1 == setting.count)
    hope = weighted(terms, scorer.weights)
    points = {name: 100 * scorer.weights[name] / sum(scorer.weights[n] for n in terms)
              for name in terms}  # fmt: skip
    some = np.arange(len(group)) if wanted is None else np.flatnonzero(hope > wanted[group])
    some = some[_most_promising(group[some], hope[some], len(new), most)]
    group, at, hope = group[some], at[:, some], hope[some]
    handicap = np.zeros(len(group)) if noise is None else noise(group)
    seen = seen or Neighbours.of(*_layouts_last(groups), gap)
    costs = _Costs(groups, group, at, points, gap, seen)
    if "closed outline" in terms:
        hope = hope - costs.between(np.arange(len(group)))
        some = np.arange(len(group)) if wanted is None else np.flatnonzero(hope > wanted[group])
        costs, hope, handicap = costs.of(some), hope[some], handicap[some]
        hope = hope - costs.along_sides()
        least = costs.least_opening()
        if wanted is not None:
            some = np.flatnonzero(hope - least > wanted[costs.group])
            costs, hope, handicap, least = costs.of(some), hope[some], handicap[some], least[some]
        some, scores = costs.best_first(hope, least, costs.opening, handicap, best)
    else:
        none = np.zeros(len(group))
        some, scores = costs.best_first(hope, none, costs.between, handicap, best)
    costs = costs.of(some)
    return Joined(costs.group, costs.at, scores, scores - handicap[some], seen)


def seen_with(
    scorer: GroupScorer, rows: Rows, centres: Centres, new: Rows, places: Centres, seen: Neighbours
) -> Neighbours:
    """Give the groups' neighbours once each has one more piece (P,) at its place (P, 2)."""
    groups = _with_host(scorer, rows, centres, new)
    gap = scorer.setting.gap_mm
    return seen.grown(_lines(groups, np.arange(len(new)), places.T, gap), gap)


@dataclass(frozen=True, slots=True, eq=False)
class _Groups:
    """P groups of K pieces, an object that they surround among them, and the one to join each."""

    centres: Centres
    sizes: Floats
    masses: Floats
    own: Floats
    own_mass: Floats


def _with_host(scorer: GroupScorer, rows: Rows, centres: Centres, new: Rows) -> _Groups:
    setting, host = scorer.setting, scorer.problem.host
    sizes, masses = setting.sizes[rows], setting.masses[rows]
    own, own_mass = setting.sizes[new], setting.masses[new]
    if host is not None:
        # It weighs by its area, as the pieces together do.
        weight = masses.sum(axis=1) + own_mass
        area = np.prod(sizes, axis=2).sum(axis=1) + np.prod(own, axis=1)
        there = np.ones((len(new), 1, 2))
        centres = np.concatenate([there * host[:2], centres], axis=1)
        sizes = np.concatenate([there * host[2:], sizes], axis=1)
        masses = np.column_stack([host[2] * host[3] * weight / area, masses])
    return _Groups(centres, sizes, masses, own, own_mass)


def _ends(groups: _Groups, group: Rows, at: Floats) -> tuple[Floats, Floats]:
    """Lower left and upper right corner (2, C) of the outlines of groups with one more piece."""
    half, own = groups.sizes / 2, groups.own.T[:, group] / 2
    low, high = (groups.centres - half).min(axis=1), (groups.centres + half).max(axis=1)
    return np.minimum(low.T[:, group], at - own), np.maximum(high.T[:, group], at + own)


def _may_hang(
    scorer: GroupScorer, groups: _Groups, group: Rows, at: Floats, size: Floats
) -> NDArray[np.bool_]:
    """Whether places (2, C) leave a group where it may be."""
    if scorer.problem.absolute:
        half = groups.own.T[:, group] / 2
        return ~scorer.setting.space.blocked(np.concatenate([at - half, at + half]).T)
    width, height = scorer.limits + HAIR
    return np.asarray((size[0] <= width) & (size[1] <= height))


def _most_promising(group: Rows, hope: Floats, groups: int, most: int) -> Rows:
    """Index of the best few of each group, in rising order."""
    table, counts, first = _by_group(group, np.round(hope, ALIKE), groups)
    if table.shape[1] <= most:
        return np.arange(len(group))
    best = np.argpartition(-table, most - 1, axis=1)[:, :most]
    there = best < counts[:, None]
    return np.asarray(np.sort((best + first[:, None])[there]))


def _by_group(group: Rows, values: Floats, groups: int) -> tuple[Floats, Rows, Rows]:
    """Values in a row for each group, -inf where there are fewer; how many, and where from."""
    counts = np.bincount(group, minlength=groups)
    first = np.cumsum(counts) - counts
    table = np.full((groups, max(1, int(counts.max(initial=0)))), -np.inf)
    table[group, np.arange(len(group)) - first[group]] = values
    return table, counts, first


def _outlined(
    groups: _Groups, group: Rows, at: Floats, low: Floats, high: Floats, gap: float
) -> Measured:
    """Measure groups with one more piece each by their outline, all else at its best."""
    size, middle = high - low, (low + high) / 2
    masses, own_mass = groups.masses, groups.own_mass
    whole = masses.sum(axis=1) + own_mass
    moment = (groups.centres * masses[..., None]).sum(axis=1) / whole[:, None]
    lean = moment.T[:, group] + (own_mass / whole)[group] * at - middle
    area = np.prod(groups.sizes + gap, axis=2).sum(axis=1) + np.prod(groups.own + gap, axis=1)
    heavy = FOCAL_SHARE * np.maximum(masses.max(axis=1), own_mass)
    hung, joins = masses >= heavy[:, None], own_mass >= heavy
    focal = np.einsum("pka,pk->ap", groups.centres, hung)[:, group] + joins[group] * at
    off = np.hypot(*(focal / (hung.sum(axis=1) + joins)[group] - middle))
    none = np.zeros(len(group))
    return Measured(
        gap_error=none,
        aligned=none + 1,
        filled=area[group] / ((size[0] + gap) * (size[1] + gap)),
        opening=none,
        lean=(lean / size).T,
        focal=off / (np.hypot(*size) / 2),
        size=size.T,
        centre=middle.T,
        colour=none + np.nan,
        straight=none + 1,
    )


def _layouts_last(groups: _Groups) -> tuple[list[Floats], list[Floats]]:
    """Centres and half sizes (K, P) of the pieces that hang, by axis."""
    there = [np.ascontiguousarray(groups.centres[..., axis].T) for axis in (0, 1)]
    return there, [np.ascontiguousarray(groups.sizes[..., axis].T) / 2 for axis in (0, 1)]


def _lines(groups: _Groups, group: Rows, at: Floats, gap: float) -> list[Line]:
    """Compare what hangs with the new piece (K, C) along each axis."""
    return [
        compare(x - hung[:, group], h[:, group], own[group] / 2, gap)
        for x, hung, h, own in zip(at, *_layouts_last(groups), groups.own.T, strict=True)
    ]


@dataclass(frozen=True, slots=True, eq=False)
class _Costs:
    """What places for one more piece cost groups, of points that their outlines let them hope for.

    Parameters
    ----------
    groups
        The groups.
    group, at
        (C,) the group that each place is for, and (2, C) the places.
    points
        Points of each term.
    gap
        The gap aimed at.
    seen
        The groups' neighbours without the new piece.
    """

    groups: _Groups
    group: Rows
    at: Floats
    points: Mapping[str, float]
    gap: float
    seen: Neighbours

    def of(self, some: Rows) -> _Costs:
        """Look at some of the places alone."""
        return replace(self, group=self.group[some], at=self.at[:, some])

    def best_first(
        self,
        hope: Floats,
        least: Floats,
        cost: Callable[[Rows], Floats],
        handicap: Floats,
        best: int | None,
    ) -> tuple[Rows, Floats]:
        """Take off what costs most time to find, only for places that may be among the best.

        A few that promise most are looked at first, then those that may still beat the best.

        Parameters
        ----------
        hope, least
            (C,) points that places may lead to, and the least that will be taken off.
        cost
            Gives what is taken off some of them.
        handicap
            (C,) points by which they are compared as if they led to less.
        best
            How many of each group are wanted; None wants all.

        Returns
        -------
        Index of those that were looked at, in rising order, and the points that they lead to.
        """
        if best is None:
            every = np.arange(len(hope))
            return every, hope - cost(every)
        count = len(self.groups.own)
        bound, scores = hope - least - handicap, np.full(len(hope), -np.inf)
        some = _most_promising(self.group, bound, count, LOOKED_AT_FIRST)
        scores[some] = hope[some] - cost(some)
        if len(some) < len(hope):
            table = _by_group(self.group, scores - handicap, count)[0]
            to_beat = np.partition(table, -best, axis=1)[:, -best] - TIE
            some = np.flatnonzero((scores == -np.inf) & (bound > to_beat[self.group]))
            scores[some] = hope[some] - cost(some)
        looked_at = np.flatnonzero(scores > -np.inf)
        return looked_at, scores[looked_at]

    def between(self, some: Rows) -> Floats:
        """Points that gaps and lines cost."""
        group, at = self.group[some], self.at[:, some]
        lines = _lines(self.groups, group, at, self.gap)
        uneven, aligned = self.seen.with_one_more(group, lines, self.gap)
        lost = self.points["even gaps"] * np.minimum(uneven / FULL_UNEVEN, 1)
        return np.asarray(lost + self.points["shared lines"] * (1 - aligned))

    def along_sides(self) -> Floats:
        """Points that ragged sides cost."""
        straight = straight_between(*self._sides(np.arange(len(self.group))), self.gap)
        return np.asarray(self.points["straight sides"] * (1 - straight))

    def opening(self, some: Rows) -> Floats:
        """Points that the largest opening along the outline costs."""
        return self._lost_by(opening_between(*self._sides(some), self.gap), self.group[some])

    def least_opening(self) -> Floats:
        """Points that openings cost which are there already and which the new piece leaves."""
        hung, half = _layouts_last(self.groups)
        low = [x - h for x, h in zip(hung, half, strict=True)]
        high = [x + h for x, h in zip(hung, half, strict=True)]
        own, area = self.groups.own.T[:, self.group] / 2, np.zeros(len(self.group))
        for opening in openings_by_side(low, high, self.gap):
            np.maximum(area, opening.stays(self.group, self.at, own), out=area)
        return self._lost_by(area, self.group)

    def _lost_by(self, opening: Floats, group: Rows) -> Floats:
        sizes = np.concatenate([self.groups.sizes, self.groups.own[:, None]], axis=1)
        piece = np.prod(sizes + self.gap, axis=2).mean(axis=1)
        return np.asarray(self.points["closed outline"] * np.minimum(opening / piece[group], 1))

    def _sides(self, some: Rows) -> tuple[list[Floats], list[Floats]]:
        """Lower left and upper right corners (K + 1, C) of groups with the new piece, by axis."""
        group, low, high = self.group[some], [], []
        hung = zip(*_layouts_last(self.groups), self.groups.own.T, self.at[:, some], strict=True)
        for x, half, size, new in hung:
            own = size[group] / 2
            low.append(np.concatenate([(x - half)[:, group], (new - own)[None]]))
            high.append(np.concatenate([(x + half)[:, group], (new + own)[None]]))
        return low, high

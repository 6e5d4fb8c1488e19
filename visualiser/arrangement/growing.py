"""Growing groups by one piece at a time: a beam of a few, or many groups at once.

What a group is measured by is for the most part a sum over its pairs of pieces, or its outline.
One more piece adds its own pairs and may stretch the outline; the rest stands. So the places that
it could have are scored from sums over what hangs, for many groups together.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.measures import (
    FOCAL_SHARE,
    Measured,
    about_host,
    straight_between,
)
from visualiser.arrangement.neighbours import Floats, Line, Neighbours, compare
from visualiser.arrangement.openings import opening_between
from visualiser.arrangement.places import HAIR, clear_of, normal_places, normal_places_of_each
from visualiser.arrangement.problem import (
    ALIKE,
    Effort,
    GroupScorer,
    Partial,
    SearchProblem,
    distinct,
)
from visualiser.arrangement.scoring import FULL_UNEVEN, weighted
from visualiser.arrangement.setting import Centres, Setting

Unit = tuple[int, ...]
"""A piece, or two of one size that hang as mirror images."""
TIE = 1e-5
"""Points by which a place must fall short to be left out for certain, rounding included."""
Rows = NDArray[np.intp]
"""Which piece, by its number in the setting."""


def beam(
    scorer: GroupScorer, order: list[Unit], effort: Effort, *, symmetrical: bool
) -> list[Partial]:
    """Build from the first unit outward, keeping the best few at each step."""
    problem = scorer.problem
    partials = _seeds(problem, order, effort, symmetrical=symmetrical)
    while partials and len(partials[0].index) < scorer.setting.count:
        grown: list[tuple[tuple[int, ...], Centres]] = []
        for partial in partials:
            for unit in _next_units(partial, order, effort, scorer.setting, symmetrical):
                places = grown_groups(scorer, partial, unit, effort, symmetrical=symmetrical)
                if len(places):
                    grown.append((partial.index + unit, places))
        if not grown:
            return []
        index = tuple(i for rows, places in grown for i in [rows] * len(places))
        centres = np.concatenate([places for _, places in grown])
        scores = scorer.scores(index, centres)
        best = np.argsort(-scores, kind="stable")[: 6 * effort.beam]
        partials = distinct(
            [Partial(index[i], centres[i], float(scores[i])) for i in best if scores[i] >= 0],
            scorer.setting,
            effort.beam,
        )
    return partials


def _seeds(
    problem: SearchProblem, order: list[Unit], effort: Effort, *, symmetrical: bool
) -> list[Partial]:
    """Start from one unit each."""
    if problem.host is not None:
        return [Partial((), np.zeros((0, 2)))]
    at = np.array(problem.origin)
    firsts = order[:1] if symmetrical else _kinds(order, problem.setting)[: effort.choices]
    out = []
    for unit in firsts:
        if len(unit) == 2:
            away = (problem.setting.sizes[unit[0], 0] + problem.setting.gap_mm) / 2
            out.append(Partial(unit, np.array([at - (away, 0.0), at + (away, 0.0)])))
        else:
            out.append(Partial(unit, at[None].copy()))
    return out


def _kinds(units: list[Unit], setting: Setting) -> list[Unit]:
    """Give the first unit of each size."""
    seen: dict[tuple[float, ...], Unit] = {}
    for unit in units:
        seen.setdefault((*setting.sizes[unit[0]].tolist(), len(unit)), unit)
    return list(seen.values())


def _next_units(
    partial: Partial, order: list[Unit], effort: Effort, setting: Setting, symmetrical: bool
) -> list[Unit]:
    left = [unit for unit in order if unit[0] not in partial.index]
    if symmetrical:
        return left[:1]
    return _kinds(left, setting)[: effort.choices]


def grown_groups(
    scorer: GroupScorer, partial: Partial, unit: Unit, effort: Effort, *, symmetrical: bool
) -> Centres:
    """Grown groups (C, k + 1 or 2, 2)."""
    problem, setting = scorer.problem, scorer.setting
    own = setting.sizes[unit[0]] / 2
    hosts, half = partial.centres, setting.sizes[list(partial.index)] / 2
    if problem.host is not None:
        x, y, width, height = problem.host
        hosts = np.concatenate([[(x, y)], hosts])
        half = np.concatenate([[(width / 2, height / 2)], half])
    gap, least = setting.gap_mm, setting.guidelines.gap_min_mm
    places = normal_places(hosts, half, own, gap, least)
    axis = problem.origin[0]
    if symmetrical and len(unit) == 2:
        beside = places[places[:, 0] >= axis + own[0] + gap / 2 - HAIR]
        near = places.copy()
        near[:, 0] = axis + own[0] + gap / 2
        places = np.concatenate([beside, clear_of(near, hosts, half, own, least)])
    elif symmetrical:
        on_axis = places.copy()
        on_axis[:, 0] = axis
        places = clear_of(on_axis, hosts, half, own, least)
    if len(places) > effort.places:
        places = places[scorer.has_room(partial, places, own)]
    if len(places) > effort.places:
        middle = (hosts.min(axis=0) + hosts.max(axis=0)) / 2
        far = np.hypot(*(places - middle).T)
        places = places[np.argsort(far, kind="stable")[: effort.places]]
    kept = np.broadcast_to(partial.centres, (len(places), *partial.centres.shape))
    if len(unit) == 2:
        twin = places * (-1.0, 1.0) + (2 * axis, 0.0)
        return np.concatenate([kept, places[:, None], twin[:, None]], axis=1)
    return np.concatenate([kept, places[:, None]], axis=1)


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
    seen
        The groups' neighbours as they hang without it.
    """

    group: Rows
    places: Floats
    scores: Floats
    seen: Neighbours

    def best_of_each(self, groups: int, handicap: Floats | None = None) -> Rows:
        """Index (P,) of the best place in each group; -1 where there is none.

        ``handicap`` (C,) is taken off the scores while they are compared.
        """
        ranks = np.round(self.scores, ALIKE) - (0.0 if handicap is None else handicap)
        table, counts, first = _by_group(self.group, ranks, groups)
        return np.where(counts > 0, first + table.argmax(axis=1), -1)

    def taken(self, chosen: Rows) -> tuple[Centres, Floats]:
        """Give chosen places (P, 2) and their scores (P,), -1 where none is chosen."""
        places, scores = np.zeros((len(chosen), 2)), np.full(len(chosen), -1.0)
        there = chosen >= 0
        places[there], scores[there] = self.places[:, chosen[there]].T, self.scores[chosen[there]]
        return places, scores

    def best_few(self, groups: int, few: int) -> Joined:
        """Keep the best few places of each group."""
        best = _most_promising(self.group, self.scores, groups, few)
        return Joined(self.group[best], self.places[:, best], self.scores[best], self.seen)


def join(
    scorer: GroupScorer,
    rows: Rows,
    centres: Centres,
    new: Rows,
    *,
    most: int,
    wanted: Floats | None = None,
    best: int = 0,
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
        Places of each group that are wanted, if only its best: others may be left out.
    seen
        The groups' neighbours, where they are known.
    """
    setting = scorer.setting
    gap, least = setting.gap_mm, setting.guidelines.gap_min_mm
    groups = _with_host(scorer, rows, centres, new)
    group, at = normal_places_of_each(
        groups.centres, groups.sizes / 2, groups.own / 2, gap, least
    )  # fmt: skip
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
    group, at, scores = group[some], at[:, some], hope[some]
    if seen is None:
        seen = Neighbours.of(*_layouts_last(groups), gap)
    uneven, aligned = seen.with_one_more(group, _lines(groups, group, at, gap), gap)
    scores -= points["even gaps"] * np.minimum(uneven / FULL_UNEVEN, 1)
    scores -= points["shared lines"] * (1 - aligned)
    if "closed outline" in terms:
        if wanted is not None:
            some = np.flatnonzero(scores > wanted[group])
            group, at, scores = group[some], at[:, some], scores[some]
        if best:
            group, at, scores = _closed(groups, group, at, scores, points, gap, best)
        else:
            scores -= _lost_along_outline(groups, group, at, points, gap)
    return Joined(group, at, scores, seen)


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


def _closed(
    groups: _Groups,
    group: Rows,
    at: Floats,
    scores: Floats,
    points: Mapping[str, float],
    gap: float,
    best: int,
) -> tuple[Rows, Floats, Floats]:
    """Take off what the outline costs, only for places that may be among the best of their group.

    Openings take longest to measure. So they are looked at for a few places at a time, those
    first that promise most, as long as any of the others may beat the best so far.
    """
    hope = scores - _lost_along_sides(groups, group, at, points, gap)
    scores = np.full(len(group), -np.inf)
    left, few = np.arange(len(group)), best
    while len(left):
        some = left[_most_promising(group[left], hope[left], len(groups.own), few)]
        scores[some] = hope[some] - _lost_by_opening(groups, group[some], at[:, some], points, gap)
        table = _by_group(group, scores, len(groups.own))[0]
        to_beat = np.sort(table, axis=1)[:, -min(best, table.shape[1])] - TIE
        left = np.flatnonzero((scores == -np.inf) & (hope > to_beat[group]))
        few *= 2
    some = np.flatnonzero(scores > -np.inf)
    return group[some], at[:, some], scores[some]


def _lost_along_outline(
    groups: _Groups, group: Rows, at: Floats, points: Mapping[str, float], gap: float
) -> Floats:
    """Points (C,) that openings and ragged sides cost groups with one more piece each."""
    return _lost_along_sides(groups, group, at, points, gap) + _lost_by_opening(
        groups, group, at, points, gap
    )


def _lost_along_sides(
    groups: _Groups, group: Rows, at: Floats, points: Mapping[str, float], gap: float
) -> Floats:
    """Points (C,) that ragged sides cost groups with one more piece each."""
    low, high = _sides(groups, group, at)
    return np.asarray(points["straight sides"] * (1 - straight_between(low, high, gap)))


def _lost_by_opening(
    groups: _Groups, group: Rows, at: Floats, points: Mapping[str, float], gap: float
) -> Floats:
    """Points (C,) that the largest opening costs groups with one more piece each."""
    sizes = np.concatenate([groups.sizes, groups.own[:, None]], axis=1)
    piece = np.prod(sizes + gap, axis=2).mean(axis=1)
    low, high = _sides(groups, group, at)
    opening = opening_between(low, high, gap) / piece[group]
    return np.asarray(points["closed outline"] * np.minimum(opening, 1))


def _sides(groups: _Groups, group: Rows, at: Floats) -> tuple[list[Floats], list[Floats]]:
    """Lower left and upper right corners (K + 1, C) of groups with one more piece, by axis."""
    low, high = [], []
    for x, hung, half, own in zip(at, *_layouts_last(groups), groups.own.T, strict=True):
        own = own[group] / 2
        low.append(np.concatenate([(hung - half)[:, group], (x - own)[None]]))
        high.append(np.concatenate([(hung + half)[:, group], (x + own)[None]]))
    return low, high

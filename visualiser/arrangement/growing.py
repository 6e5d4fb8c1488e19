"""Growing a group from its first piece outward, by a beam of the best few."""

from __future__ import annotations

import numpy as np

from visualiser.arrangement.places import HAIR, clear_of, normal_places
from visualiser.arrangement.problem import Effort, GroupScorer, Partial, SearchProblem, distinct
from visualiser.arrangement.setting import Centres, Setting

Unit = tuple[int, ...]
"""A piece, or two of one size that hang as mirror images."""


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

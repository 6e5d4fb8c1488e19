"""Build whole groups: greedy start, local search, exhaustive for small sets."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from visualiser.arrangement.exhaustive import MOST_ENUMERATED, Task, best_groups
from visualiser.arrangement.growing import Unit, beam
from visualiser.arrangement.improving import PARTS, anneal, grown, sweep
from visualiser.arrangement.lots import Lots
from visualiser.arrangement.problem import (
    Effort,
    GroupScorer,
    Partial,
    SearchProblem,
    distinct,
    search_weights,
)
from visualiser.arrangement.setting import Centres

TIGHT = {"compact outline": 0.5, "closed outline": 0.25, "balance": 0.08}
"""Weights of every second start: groups that stay closed while they grow end up better filled."""


def build_groups(
    problem: SearchProblem,
    units: Sequence[Unit],
    rng: np.random.Generator,
    effort: Effort | None = None,
    *,
    weights: dict[str, float] | None = None,
    seeds: Sequence[Centres] = (),
    keep: int = 24,
) -> list[Centres]:
    """Build whole groups, best first.

    Parameters
    ----------
    problem
        What they are built on.
    units
        Pieces one by one, or two of one size for a group symmetrical about ``origin``.
    rng
        Shuffles the order of later starts.
    effort
        How hard to try; by the number of pieces when None.
    weights
        Weights of the group's score terms.
    seeds
        Whole groups (N, 2) to start from as well.
    keep
        How many to give.

    Returns
    -------
    Centres (N, 2), in the setting's order; empty when no group was found.
    """
    effort = effort or Effort.for_count(problem.setting.count)
    if problem.setting.quick:
        effort = effort.reduced()
    scorer = GroupScorer(problem, weights or search_weights(problem.setting))
    symmetrical = any(len(unit) == 2 for unit in units)
    by_worth = weights is None and problem.setting.count > MOST_ENUMERATED
    plain = problem.host is None and not problem.absolute and not symmetrical
    every_way = plain and effort.exact
    found: list[Partial] = []
    if symmetrical:
        found += _mirrored(scorer, units, effort, rng)
    sown = scorer.rescored_whole(seeds)
    found += sown
    if not symmetrical:
        found = _bettered(scorer, sown, effort, rng, keep, by_worth=by_worth)
        found = distinct(found, problem.setting, keep)
        if by_worth:
            same = scorer.rescored_whole([_in_order(group) for group in found])
            found = scorer.worth_of([*found, *sweep(scorer, same, effort)])
        else:
            found = sweep(scorer, found, effort)
    found = distinct([g for g in found if g.score >= 0], problem.setting, keep)
    if every_way and 2 < problem.setting.count <= MOST_ENUMERATED:
        above = found[0].score if found else 0.0
        task = Task(problem.setting, scorer.limits, scorer.weights)
        found += scorer.rescored_whole(best_groups(task, above, keep))
        found = distinct(found, problem.setting, keep)
    return [_in_order(group) for group in found]


def _bettered(
    scorer: GroupScorer,
    sown: list[Partial],
    effort: Effort,
    rng: np.random.Generator,
    keep: int,
    *,
    by_worth: bool = False,
) -> list[Partial]:
    """Grow groups in an order drawn by lot, put them in turn with given ones and better all."""
    lots = Lots.drawn(rng, effort.chains)
    made = grown(scorer, effort, lots)
    fixed, own = made[: lots.first_own], made[lots.first_own :]
    best, mine = (
        distinct([g for g in groups if g.score >= 0], scorer.setting, effort.chains)
        for groups in (fixed, own)
    )
    given = distinct(sown, scorer.setting, effort.chains // 2)
    starts = _with_some(given, best, lots.first_own), _with_some(given, mine, lots.own_groups)
    return anneal(scorer, *starts, effort, lots, keep, by_worth=by_worth)


def _with_some(given: list[Partial], found: list[Partial], size: int) -> list[Partial]:
    """Start every second of the parts that are bettered apart from given groups."""
    if not given or not found:
        return given or found
    return [
        found[k % len(found)] if k % PARTS % 2 else given[k // 2 % len(given)] for k in range(size)
    ]


def _mirrored(
    scorer: GroupScorer, units: Sequence[Unit], effort: Effort, rng: np.random.Generator
) -> list[Partial]:
    """Build groups of mirrored pairs by several beams."""
    found: list[Partial] = []
    for start in range(effort.starts):
        order = list(units)
        if start > 1:
            rng.shuffle(order)
        lead = GroupScorer(scorer.problem, {**scorer.weights, **TIGHT}) if start % 2 else scorer
        built = beam(lead, order, effort, symmetrical=True)
        found += [scorer.rescored(group) for group in built] if start % 2 else built
    return found


def _in_order(group: Partial) -> Centres:
    out = np.empty_like(group.centres)
    out[list(group.index)] = group.centres
    return out

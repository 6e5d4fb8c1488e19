"""Whole groups, built piece by piece: grown, bettered, and for small sets proved the best."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from visualiser.arrangement.enumerating import MOST_ENUMERATED, Task, best_groups
from visualiser.arrangement.ground import Ground, Judge, Partial, distinct
from visualiser.arrangement.growing import Effort, Unit, beam
from visualiser.arrangement.refining import polished, renewed
from visualiser.arrangement.scoring import WEIGHTS
from visualiser.arrangement.setting import Centres

TIGHT = {"compact outline": 0.5, "full corners": 0.25, "balance": 0.08}
"""Weights of every second start: groups that stay closed while they grow end up better filled."""


def build_groups(
    ground: Ground,
    units: Sequence[Unit],
    rng: np.random.Generator,
    effort: Effort | None = None,
    *,
    weights: dict[str, float] | None = None,
    seeds: Sequence[Centres] = (),
    keep: int = 6,
) -> list[Centres]:
    """Build whole groups, best first.

    Parameters
    ----------
    ground
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
    effort = effort or Effort.for_count(ground.setting.count)
    judge = Judge(ground, weights or dict(WEIGHTS))
    symmetrical = any(len(unit) == 2 for unit in units)
    found: list[Partial] = []
    for start in range(effort.starts):
        order = list(units)
        if start > 1:
            rng.shuffle(order)
        lead = Judge(ground, {**judge.weights, **TIGHT}) if start % 2 else judge
        built = beam(lead, order, effort, symmetrical=symmetrical)
        found += [judge.rated(group) for group in built] if start % 2 else built
    found += judge.rated_whole(seeds)
    found = distinct([g for g in found if g.score >= 0], ground.setting, keep)
    if not symmetrical:
        better = [polished(judge, group, effort) for group in found[: max(2, keep // 2)]]
        found = distinct(better + found, ground.setting, keep)
        found += [renewed(judge, group, effort, rng) for group in found[: effort.chains]]
        found = distinct(found, ground.setting, keep)
    free = ground.host is None and not ground.absolute and not symmetrical
    if free and 2 < ground.setting.count <= MOST_ENUMERATED:
        above = found[0].score if found else 0.0
        task = Task(ground.setting, judge.limits, judge.weights)
        found += judge.rated_whole(best_groups(task, above, keep))
        found = distinct(found, ground.setting, keep)
    return [_in_order(group) for group in found]


def _in_order(group: Partial) -> Centres:
    out = np.empty_like(group.centres)
    out[list(group.index)] = group.centres
    return out

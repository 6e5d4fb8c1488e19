"""Bettering whole groups: pieces are taken out and put back where they do best."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.ground import Judge, Partial
from visualiser.arrangement.growing import Effort, grown_groups


def polished(judge: Judge, group: Partial, effort: Effort) -> Partial:
    """Take each piece out in turn and put it back where the group does best."""
    for _ in range(effort.sweeps):
        before = group.score
        for position in range(len(group.index)):
            group = _moved_best(judge, group, position, effort)
        if group.score <= before + 1e-9:
            break
    return group


def renewed(judge: Judge, group: Partial, effort: Effort, rng: np.random.Generator) -> Partial:
    """Take a few neighbouring pieces out together and put them back, again and again."""
    count = len(group.index)
    best = current = group
    for step in range(effort.renewals if count > 2 else 0):
        out = int(rng.integers(2, min(4, count) + 1)) if count > 3 else 2
        around = current.centres[rng.integers(count)]
        near = np.hypot(*(current.centres - around).T) * rng.uniform(0.5, 1.5, count)
        leave = np.argsort(near, kind="stable")[:out]
        made = _put_back(judge, current, leave[rng.permutation(out)], effort)
        cooling = 1.5 * (1 - step / effort.renewals)
        if made is not None and made.score > current.score - cooling * rng.random():
            current = made
            if current.score > best.score:
                best = current
    return best


def _put_back(
    judge: Judge, group: Partial, leave: NDArray[np.intp], effort: Effort
) -> Partial | None:
    """Put pieces back one by one where each does best; None when one has no place."""
    stay = [k for k in range(len(group.index)) if k not in leave]
    now = Partial(tuple(group.index[k] for k in stay), group.centres[stay])
    for k in leave:
        unit = (group.index[k],)
        places = grown_groups(judge, now, unit, effort, symmetrical=False)
        if not len(places):
            return None
        index = now.index + unit
        scores = judge.scores(index, places)
        best = int(np.argmax(scores))
        if scores[best] < 0:
            return None
        now = Partial(index, places[best], float(scores[best]))
    return now


def _moved_best(judge: Judge, group: Partial, position: int, effort: Effort) -> Partial:
    rest = tuple(i for k, i in enumerate(group.index) if k != position)
    if not rest and judge.ground.host is None:
        return group
    partial = Partial(rest, np.delete(group.centres, position, axis=0))
    unit = (group.index[position],)
    places = grown_groups(judge, partial, unit, effort, symmetrical=False)
    if not len(places):
        return group
    index = rest + unit
    scores = judge.scores(index, places)
    best = int(np.argmax(scores))
    if scores[best] <= group.score + 1e-9:
        return group
    return Partial(index, places[best], float(scores[best]))

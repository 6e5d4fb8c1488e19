"""Bettering whole groups: pieces are taken out and put back where they do best.

Many groups are bettered together. In each round every one loses a few pieces, gets them back one
after another, and is kept if it is not much worse than before; how much worse falls from round to
round (simulated annealing: Kirkpatrick, Gelatt and Vecchi, Science 220:671, 1983, with moves that
take out and put back as in Shaw, "Using constraint programming and local search methods to solve
vehicle routing problems", CP 1998). Now and then the worst give way to copies of the best.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.growing import Rows, join, seen_with
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.problem import Effort, GroupScorer, Partial, distinct
from visualiser.arrangement.setting import Centres

WORSE = 30.0
"""Points of score that a group may lose in the first round, over its number of pieces."""
TIE_NOISE = 3.0
"""Points by which a place may fall short of the best and still be chosen on the way."""
MOST_OUT = 5
"""Pieces taken out together."""
CLUSTERED = 0.7
"""Share of rounds in which they are neighbours; else they may hang anywhere."""
PARTS = 3
"""Parts of the groups that are bettered each for itself."""
CORES = 24
"""Cores of each choice of pieces that are grown to whole groups."""
MOST_SWEEPS = 4
"""Rounds of taking every piece out once and putting it back."""
GENERATION = 12
"""Rounds after which the worst quarter gives way to the best."""


@dataclass(slots=True, eq=False)
class _Population:
    """P whole groups, each with its pieces in an order of its own."""

    rows: Rows
    centres: Centres
    scores: Floats

    def kept(self, better: _Population, where: NDArray[np.bool_]) -> None:
        """Take over what another has bettered."""
        self.rows[where] = better.rows[where]
        self.centres[where] = better.centres[where]
        self.scores[where] = better.scores[where]

    def taken(self, which: Rows) -> _Population:
        """Take some of them, each as often as it is named."""
        return _Population(self.rows[which], self.centres[which], self.scores[which])

    def groups(self) -> list[Partial]:
        """Each as a group of its own."""
        return [
            Partial(tuple(map(int, rows)), centres.copy(), float(score))
            for rows, centres, score in zip(self.rows, self.centres, self.scores, strict=True)
        ]


def _population(groups: Sequence[Partial], size: int) -> _Population:
    chosen = [groups[k % len(groups)] for k in range(size)]
    return _Population(
        np.array([g.index for g in chosen], np.intp),
        np.array([g.centres for g in chosen]),
        np.array([g.score for g in chosen]),
    )


def anneal(
    scorer: GroupScorer,
    groups: Sequence[Partial],
    effort: Effort,
    rng: np.random.Generator,
    keep: int,
) -> list[Partial]:
    """Better whole groups over many rounds; give the best few that came of each part of them.

    The parts never mix, so that what they come to may differ.
    """
    kept = [index for index, _, _ in scorer.problem.kept]
    least = max(2 if scorer.problem.host is None and not kept else 1, len(kept))
    count = scorer.setting.count
    if count <= least or not groups or not effort.renewals:
        return list(groups)
    now, best = _population(groups, effort.chains), _population(groups, effort.chains)
    for step in range(effort.renewals):
        most = min(MOST_OUT, count - len(kept) if kept else count + 1 - least)
        out = int(rng.integers(min(2, most), most + 1))
        leave = _leaving(now.centres, out, rng, np.isin(now.rows, kept) if kept else None)
        warmth = WORSE / count * (1 - step / effort.renewals)
        allowed = now.scores - warmth * rng.random(effort.chains)
        made = _put_back(scorer, now, leave, effort, allowed, rng)
        now.kept(made, made.scores > allowed)
        best.kept(now, now.scores > best.scores + 1e-9)
        if step % GENERATION == GENERATION - 1:
            for part in range(PARTS):
                _replace_worst(now, np.arange(part, effort.chains, PARTS))
    return [
        group
        for part in range(PARTS)
        for group in distinct(best.groups()[part::PARTS], scorer.setting, max(1, keep // PARTS))
    ]


def grown(scorer: GroupScorer, effort: Effort, rng: np.random.Generator) -> list[Partial]:
    """Build groups piece by piece, each piece where it does about best.

    The first group starts from the largest piece and takes the next largest each time; the
    others stray from that order more and more.
    """
    count, size = scorer.setting.count, effort.chains
    kept = scorer.problem.kept
    stray = np.linspace(0, count, size)[:, None] * rng.random((size, count))
    rows = np.argsort(np.arange(count) + stray, axis=1, kind="stable")
    start = _Population(
        rows, np.zeros((size, count, 2)) + scorer.problem.origin, np.full(size, -1.0)
    )
    first = 1 if scorer.problem.host is None else 0
    if kept:
        first = len(kept)
        numbers = [index for index, _, _ in kept]
        there = np.isin(rows, numbers)
        others = rows[~there].reshape(size, count - first)
        start.rows[:] = np.concatenate([np.tile(numbers, (size, 1)), others], axis=1)
        start.centres[:, :first] = [(x, y) for _, x, y in kept]
    leave = np.tile(np.arange(first, count), (size, 1))
    made = _put_back(scorer, start, leave, effort, start.scores, rng)
    return [group for group in made.groups() if group.score >= 0]


def complete_cores(
    scorer: GroupScorer, cores: Mapping[tuple[int, ...], Centres], above: float, effort: Effort
) -> list[Partial]:
    """Put the missing pieces to the best few cores of each choice of pieces, in every order.

    Groups that score no more than ``above`` are left out.
    """
    rows, centres = [], []
    for chosen, groups in cores.items():
        scores = scorer.scores(chosen, groups)
        best = groups[np.argsort(-np.round(scores, 6), kind="stable")[:CORES]]
        rest = [k for k in range(scorer.setting.count) if k not in chosen]
        for order in permutations(rest):
            rows.append(np.tile([*chosen, *order], (len(best), 1)))
            centres.append(np.pad(best, ((0, 0), (0, len(rest)), (0, 0))))
    if not rows:
        return []
    whole = np.concatenate(rows)
    start = _Population(whole, np.concatenate(centres), np.full(len(whole), above))
    count, hung = scorer.setting.count, len(next(iter(cores)))
    leave = np.tile(np.arange(hung, count), (len(whole), 1))
    made = _put_back(scorer, start, leave, effort, start.scores, None)
    return made.taken(np.flatnonzero(made.scores > above)).groups()


def _replace_worst(population: _Population, part: Rows) -> None:
    """Let the worst quarter of a part give way to copies of the best."""
    quarter = len(part) // 4
    order = part[np.argsort(-np.round(population.scores[part], 6), kind="stable")]
    worst, best = order[len(order) - quarter :], order[:quarter]
    for values in (population.rows, population.centres, population.scores):
        values[worst] = values[best]


def _leaving(
    centres: Centres, out: int, rng: np.random.Generator, stay: NDArray[np.bool_] | None = None
) -> Rows:
    """Choose pieces (P, out) to take out of each group, in the order in which they come back."""
    population, count = centres.shape[:2]
    around = centres[np.arange(population), rng.integers(count, size=population)]
    far = np.hypot(*np.moveaxis(centres - around[:, None], 2, 0))
    far *= rng.uniform(0.5, 1.5, (population, count))
    anywhere = np.flatnonzero(rng.random(population) >= CLUSTERED)
    far[anywhere] = rng.random((len(anywhere), count))
    if stay is not None:
        far[stay] = np.inf
    leave = np.argsort(far, axis=1, kind="stable")[:, :out]
    return np.asarray(rng.permuted(leave, axis=1))


def _put_back(
    scorer: GroupScorer,
    population: _Population,
    leave: Rows,
    effort: Effort,
    allowed: Floats,
    rng: np.random.Generator | None,
) -> _Population:
    """Put pieces back one by one where each does best; score -1 where one finds no place."""
    groups, out = leave.shape
    count = population.rows.shape[1]
    mark = np.zeros((groups, count), np.intp)
    np.put_along_axis(mark, leave, np.arange(1, out + 1), axis=1)
    order = np.argsort(mark, axis=1, kind="stable")
    rows = np.take_along_axis(population.rows, order, axis=1)
    centres = np.take_along_axis(population.centres, order[..., None], axis=1)
    hung = np.ones(groups, np.bool_)
    scores = np.full(groups, -1.0)
    seen = None
    for k in range(count - out, count):
        last = k + 1 == count
        found = join(
            scorer, rows[:, :k], centres[:, :k], rows[:, k],
            most=effort.looked_at, wanted=allowed if last else None,
            best_only=last, seen=seen,
        )  # fmt: skip
        handicap = None
        if rng is not None and not last:
            handicap = TIE_NOISE * rng.random(len(found.group))
        places, scores = found.best_of_each(groups, handicap)
        if not last:
            seen = seen_with(scorer, rows[:, :k], centres[:, :k], rows[:, k], places, found.seen)
        centres[:, k] = places
        hung &= scores >= 0
    return _Population(rows, centres, np.where(hung, scores, -1.0))


def sweep(scorer: GroupScorer, groups: Sequence[Partial], effort: Effort) -> list[Partial]:
    """Take each piece out of each group in turn and put it back where the group does best."""
    if not groups or scorer.setting.count < 2:
        return list(groups)
    now = _population(groups, len(groups))
    for _ in range(MOST_SWEEPS):
        before = now.scores.copy()
        kept = [index for index, _, _ in scorer.problem.kept]
        for piece in (k for k in range(scorer.setting.count) if k not in kept):
            leave = np.argmax(now.rows == piece, axis=1)[:, None]
            made = _put_back(scorer, now, leave, effort, now.scores + 1e-9, None)
            now.kept(made, made.scores > now.scores + 1e-9)
        if not (now.scores > before).any():
            break
    return now.groups()

"""Bettering whole groups: pieces are taken out and put back where they do best.

Many groups are bettered together. In each round every one loses a few pieces, gets them back one
after another, and is kept if it is not much worse than before; how much worse falls from round to
round (simulated annealing: Kirkpatrick, Gelatt and Vecchi, Science 220:671, 1983, with moves that
take out and put back as in Shaw, "Using constraint programming and local search methods to solve
vehicle routing problems", CP 1998). Now and then the worst give way to copies of the best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.joining import Rows, join, seen_with
from visualiser.arrangement.lots import Lots
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
PARTS = 6
"""Parts of the groups that are bettered each for itself: what is best early takes over its own."""
FEW_PARTS = 3
"""The same of groups so small that they are built in every way as well."""
MOST_SWEEPS = 4
"""Rounds of taking every piece out once and putting it back."""
WORTH_SHARE = 0.5
"""Share of those points by which the whole score may fall, as half of its weights are the group's
own."""
FORESEEN = 4.0
"""Points by which the search's score may fall further where the whole score decides."""
GO_ON = 0.5
"""Share of the parts that go on to the next round."""
FEWEST_PARTS = 2
"""Parts that go on at least, so that it can be seen whether they agree."""
AGREE = 0.05
"""Points within which the best two of parts that never mix agree, so that the search has settled:
two starts apart came to the same group, or to one as good."""
WARM_AGAIN = 0.6
"""Warmth at which another round begins, over that of the one before."""
LAST_LOOKED_AT = 2
"""Places of the last piece for which the whole group is scored where its worth decides."""
GENERATION = 12
"""Rounds after which the worst quarter gives way to the best."""


@dataclass(slots=True, eq=False)
class _Population:
    """P whole groups, each with its pieces in an order of its own."""

    rows: Rows
    centres: Centres
    scores: Floats
    worths: Floats

    def kept(self, better: _Population, where: NDArray[np.bool_]) -> None:
        """Take over what another has bettered."""
        which = np.flatnonzero(where)
        self.put(which, better.taken(which))

    def put(self, where: Rows, others: _Population) -> None:
        """Take over others, each at its place."""
        self.rows[where], self.centres[where] = others.rows, others.centres
        self.scores[where], self.worths[where] = others.scores, others.worths

    def taken(self, which: Rows) -> _Population:
        """Take some of them, each as often as it is named."""
        return _Population(
            self.rows[which], self.centres[which], self.scores[which], self.worths[which]
        )

    def joined(self, other: _Population) -> _Population:
        """Put another's groups behind its own."""
        return _Population(
            np.concatenate([self.rows, other.rows]),
            np.concatenate([self.centres, other.centres]),
            np.concatenate([self.scores, other.scores]),
            np.concatenate([self.worths, other.worths]),
        )

    def groups(self) -> list[Partial]:
        """Each as a group of its own."""
        return [
            Partial(tuple(map(int, rows)), centres.copy(), float(worth))
            for rows, centres, worth in zip(self.rows, self.centres, self.worths, strict=True)
        ]


def _population(groups: Sequence[Partial], size: int) -> _Population:
    chosen = [groups[k % len(groups)] for k in range(size)]
    scores = np.array([g.score for g in chosen])
    return _Population(
        np.array([g.index for g in chosen], np.intp),
        np.array([g.centres for g in chosen]),
        scores,
        scores.copy(),
    )


def anneal(
    scorer: GroupScorer,
    groups: Sequence[Partial],
    own: Sequence[Partial],
    effort: Effort,
    lots: Lots,
    keep: int,
    *,
    by_worth: bool = False,
) -> list[Partial]:
    """Better whole groups over many rounds; give the best few that came of each part of them.

    The parts never mix, so that what they come to may differ: further rounds follow until the
    best two of them agree. The groups that follow the person's seed, which start from ``own``,
    are a part of their own. With ``by_worth`` places are still looked for by the search's score,
    which sums over pairs of pieces give, but whether a group stays goes by all that it is scored
    by where it hangs.
    """
    count = scorer.setting.count
    if count <= _least(scorer) or not groups or not effort.renewals:
        every = [*groups, *own]
        return scorer.worth_of(every) if by_worth else every
    now = _population(groups, lots.first_own).joined(_population(own or groups, lots.own_groups))
    if by_worth:
        now.worths = scorer.worths(now.rows, now.centres)
    best = now.taken(np.arange(lots.groups))
    apart = PARTS if by_worth else FEW_PARTS
    parts = [np.arange(part, lots.first_own, apart) for part in range(apart)]
    own_part = np.arange(lots.first_own, lots.groups)
    left, alive = [*parts, own_part], np.arange(lots.groups)
    for number in range(effort.rounds):
        for step in range(effort.renewals):
            warmth = WORSE / count * WARM_AGAIN**number * (1 - step / effort.renewals)
            _renewed(scorer, now, warmth, effort, lots, by_worth=by_worth)
            better = np.flatnonzero(now.worths > best.worths[alive] + 1e-9)
            best.put(alive[better], now.taken(better))
            if step % GENERATION == GENERATION - 1:
                for part in left:
                    _replace_worst(now, np.searchsorted(alive, part))
        tops = sorted(float(best.worths[part].max()) for part in parts if len(part))
        if len(tops) > 1 and tops[-1] - tops[-2] <= AGREE:
            break
        # The parts that promise most go on (successive halving: Jamieson and Talwalkar, AISTATS
        # 2016); what the others came to stays among the results.
        rank = sorted(left[:-1], key=lambda part: -round(best.worths[part].max(initial=-1), 6))
        left = [*rank[: max(FEWEST_PARTS, round(GO_ON * len(rank)))], own_part]
        alive = np.sort(np.concatenate(left))
        lots = replace(lots, groups=len(alive))
        now = best.taken(alive)
    parts.append(own_part)
    every = best.groups()
    return [
        group
        for part in parts
        for group in distinct([every[k] for k in part], scorer.setting, max(1, keep // apart))
    ]


def _renewed(
    scorer: GroupScorer,
    now: _Population,
    warmth: float,
    effort: Effort,
    lots: Lots,
    *,
    by_worth: bool,
) -> None:
    """Take a few pieces out of each group, put them back, and keep what is not much worse."""
    count = scorer.setting.count
    kept = [index for index, _, _ in scorer.problem.kept]
    most = min(MOST_OUT, count - len(kept) if kept else count + 1 - _least(scorer))
    out = int(lots.fixed.integers(min(2, most), most + 1))
    leave = _leaving(now.centres, out, lots, np.isin(now.rows, kept) if kept else None)
    luck = warmth * lots.random()
    if by_worth:
        wanted = now.scores - warmth - FORESEEN
        made = _put_back(scorer, now, leave, effort, wanted, lots, by_worth=True)
        now.kept(made, made.worths > now.worths - WORTH_SHARE * luck)
    else:
        made = _put_back(scorer, now, leave, effort, now.scores - luck, lots)
        now.kept(made, made.scores > now.scores - luck)


def _least(scorer: GroupScorer) -> int:
    """Fewest pieces of which a group is more than one way to hang."""
    kept = scorer.problem.kept
    return max(2 if scorer.problem.host is None and not kept else 1, len(kept))


def grown(scorer: GroupScorer, effort: Effort, lots: Lots) -> list[Partial]:
    """Build groups piece by piece, each piece where it does about best; score -1 where it fails.

    The first group starts from the largest piece and takes the next largest each time; the
    others stray from that order more and more.
    """
    count, size = scorer.setting.count, effort.chains
    kept = scorer.problem.kept
    stray = np.linspace(0, count, size)[:, None] * lots.random(count)
    rows = np.argsort(np.arange(count) + stray, axis=1, kind="stable")
    none = np.full(size, -1.0)
    start = _Population(rows, np.zeros((size, count, 2)) + scorer.problem.origin, none, none.copy())
    first = 1 if scorer.problem.host is None else 0
    if kept:
        first = len(kept)
        numbers = [index for index, _, _ in kept]
        there = np.isin(rows, numbers)
        others = rows[~there].reshape(size, count - first)
        start.rows[:] = np.concatenate([np.tile(numbers, (size, 1)), others], axis=1)
        start.centres[:, :first] = [(x, y) for _, x, y in kept]
    leave = np.tile(np.arange(first, count), (size, 1))
    return _put_back(scorer, start, leave, effort, start.scores, lots).groups()


def _replace_worst(population: _Population, part: Rows) -> None:
    """Let the worst quarter of a part give way to copies of the best."""
    quarter = len(part) // 4
    order = part[np.argsort(-np.round(population.worths[part], 6), kind="stable")]
    worst, best = order[len(order) - quarter :], order[:quarter]
    for values in (population.rows, population.centres, population.scores, population.worths):
        values[worst] = values[best]


def _leaving(centres: Centres, out: int, lots: Lots, stay: NDArray[np.bool_] | None = None) -> Rows:
    """Choose pieces (P, out) to take out of each group, in the order in which they come back."""
    population, count = centres.shape[:2]
    middle = (lots.random() * count).astype(np.intp)
    around = centres[np.arange(population), middle]
    far = np.hypot(*np.moveaxis(centres - around[:, None], 2, 0))
    far *= 0.5 + lots.random(count)
    anywhere = lots.random() >= CLUSTERED
    far[anywhere] = lots.random(count)[anywhere]
    if stay is not None:
        far[stay] = np.inf
    leave = np.argsort(far, axis=1, kind="stable")[:, :out]
    order = np.argsort(lots.random(out), axis=1, kind="stable")
    return np.asarray(np.take_along_axis(leave, order, axis=1))


def _put_back(
    scorer: GroupScorer,
    population: _Population,
    leave: Rows,
    effort: Effort,
    allowed: Floats,
    lots: Lots | None,
    *,
    by_worth: bool = False,
) -> _Population:
    """Put pieces back one by one where each does best; score -1 where one finds no place.

    With ``by_worth`` the last goes where the whole group is worth most of the best few places;
    else groups are worth their score.
    """
    groups, out = leave.shape
    count = population.rows.shape[1]
    mark = np.zeros((groups, count), np.intp)
    np.put_along_axis(mark, leave, np.arange(1, out + 1), axis=1)
    order = np.argsort(mark, axis=1, kind="stable")
    rows = np.take_along_axis(population.rows, order, axis=1)
    centres = np.take_along_axis(population.centres, order[..., None], axis=1)
    hung = np.ones(groups, np.bool_)
    scores = worths = np.full(groups, -1.0)
    seen = None

    def noise(group: Rows) -> Floats:
        return TIE_NOISE * lots.for_each(group) if lots else np.zeros(len(group))

    for k in range(count - out, count):
        last = k + 1 == count
        found = join(
            scorer, rows[:, :k], centres[:, :k], rows[:, k],
            most=effort.looked_at, wanted=allowed if last else None,
            best=LAST_LOOKED_AT if last and by_worth else 1,
            noise=None if last else noise, seen=seen,
        )  # fmt: skip
        worth = None
        if last and by_worth:
            found = found.best_few(groups, LAST_LOOKED_AT)
            whole = centres[found.group]
            whole[:, k] = found.places.T
            worth = scorer.worths(rows[found.group], whole)
            found = replace(found, ranks=worth)
        chosen = found.best_of_each(groups)
        places, scores = found.taken(chosen)
        if not last:
            seen = seen_with(scorer, rows[:, :k], centres[:, :k], rows[:, k], places, found.seen)
        centres[:, k] = places
        hung &= scores >= 0
        if last:
            worths = scores if worth is None or not len(worth) else worth[chosen]
    none = np.full(groups, -1.0)
    return _Population(rows, centres, np.where(hung, scores, none), np.where(hung, worths, none))


def sweep(scorer: GroupScorer, groups: Sequence[Partial], effort: Effort) -> list[Partial]:
    """Take each piece out of each group in turn and put it back where the group does best."""
    if not groups or scorer.setting.count < 2:
        return list(groups)
    now = _population(groups, len(groups))
    kept = np.array([index for index, _, _ in scorer.problem.kept], np.intp)
    untried = np.ones(now.rows.shape, np.bool_)
    untried[:, kept] = False
    for _ in range(MOST_SWEEPS):
        for piece in range(scorer.setting.count):
            some = np.flatnonzero(untried[:, piece])
            if not len(some):
                continue
            old = now.taken(some)
            leave = np.argmax(old.rows == piece, axis=1)[:, None]
            made = _put_back(scorer, old, leave, effort, old.scores + 1e-9, None)
            better = made.scores > old.scores + 1e-9
            now.put(some[better], made.taken(np.flatnonzero(better)))
            # Only a group that has changed since can be bettered by a piece that was tried.
            untried[some[better]] = True
            untried[np.ix_(some[better], kept)] = False
            untried[some, piece] = False
        if not untried.any():
            break
    return now.groups()

"""What a search works on: the problem, how hard it tries, and how it scores parts of groups."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.measures import (
    Measured,
    MeasuringContext,
    about_host,
    measure,
    with_host,
)
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.places import HAIR
from visualiser.arrangement.scoring import (
    SEARCH_WEIGHTS,
    group_terms,
    proportion,
    score_layouts,
    weighted,
)
from visualiser.arrangement.setting import Centres, Setting

MOST_EXACT = 6
"""Pieces up to which groups are built by terms that bounds are known for."""
ALIKE = 6
"""Decimals of a score: where groups or places differ by rounding only, the first is taken, so
that the unit they were worked out in decides nothing."""


PROPORTION_ABOVE = 0.45
"""Weight of the proportion above furniture, where a width that fails spoils the whole score."""


def search_weights(setting: Setting) -> dict[str, float]:
    """Give the weights that groups are built by on this wall."""
    above = setting.space.furniture is not None
    return {**SEARCH_WEIGHTS, **({"proportion": PROPORTION_ABOVE} if above else {})}


@dataclass(frozen=True, slots=True, eq=False)
class SearchProblem:
    """What a group is built on.

    Parameters
    ----------
    setting
        Pieces, wall and rules.
    host
        (cx, cy, width, height) of an object that the group surrounds; None without.
    absolute
        Whether places are wall mm and must keep out of the blocks as they stand.
    origin
        Where the first piece goes.
    kept
        Number and centre of each piece that stays where it is.
    """

    setting: Setting
    host: tuple[float, float, float, float] | None = None
    absolute: bool = False
    origin: tuple[float, float] = (0.0, 0.0)
    kept: tuple[tuple[int, float, float], ...] = ()

    @property
    def context(self) -> MeasuringContext:
        """What whole groups are measured with."""
        if self.host is not None:
            return MeasuringContext(self.host, kind="around")
        return MeasuringContext(kind="salon")


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard the search tries.

    Parameters
    ----------
    beam
        Partial groups kept at each step of a mirrored group.
    choices
        Sizes tried as the next piece of each.
    starts
        Beams from different orders.
    places
        Places tried for one piece in one partial group, the nearest to its middle.
    chains
        Groups that are bettered together.
    renewals
        Times that a few pieces of each are taken out together and put back one after another, in
        one round.
    rounds
        Rounds at most, until the best of independent starts agree.
    looked_at
        Places looked at closely for a piece that is put back.
    exact
        Whether small sets are also built in every way.
    """

    beam: int = 10
    choices: int = 3
    starts: int = 2
    places: int = 400
    chains: int = 24
    renewals: int = 60
    rounds: int = 1
    looked_at: int = 24
    exact: bool = True

    def reduced(self) -> Effort:
        """Cut the effort to a third, for a first look."""
        return replace(
            self,
            chains=max(self.chains // 3, 6),
            renewals=self.renewals // 3,
            rounds=1,
            places=min(self.places, 48),
            exact=False,
        )

    @classmethod
    def for_count(cls, count: int) -> Effort:
        """Effort that keeps the time within a few seconds for any set."""
        if count <= 5:
            return cls(beam=20, choices=5, starts=1, places=120, chains=16, renewals=15)
        if count == 6:
            return cls(beam=4, choices=2, starts=2, places=64, chains=48, renewals=12, looked_at=12)
        if count <= 9:
            return cls(beam=4, choices=2, starts=2, places=64, renewals=40, rounds=3)
        if count <= 14:
            return cls(beam=4, choices=2, starts=1, places=80, chains=32, renewals=27, rounds=2)
        if count <= 24:
            return cls(beam=2, choices=1, starts=1, places=64, chains=28, renewals=30, rounds=2)
        return cls(beam=2, choices=1, starts=1, places=48, chains=16, renewals=60)


@dataclass(frozen=True, slots=True, eq=False)
class Partial:
    """Some pieces of a group and their centres."""

    index: tuple[int, ...]
    centres: Centres
    score: float = 0.0


class GroupScorer:
    """Scores partial groups of one problem."""

    def __init__(self, problem: SearchProblem, weights: dict[str, float]) -> None:
        self.problem = problem
        self.setting = problem.setting
        self.weights = {**weights, "shape": 0.10}
        self.limits = np.array(_room(self.setting))
        self.aspect = _wanted_aspect(self.setting)
        # Above furniture groups far too wide all fail by their width alone: their shape leads on.
        self.led = self.setting.space.furniture is not None and self.setting.count > MOST_EXACT

    def has_room(self, partial: Partial, places: Centres, own: Floats) -> NDArray[np.bool_]:
        """Whether a piece of half size ``own`` at each place leaves the group where it may be."""
        if self.problem.absolute:
            boxes = np.concatenate([places - own, places + own], axis=1)
            return ~self.setting.space.blocked(boxes)
        if not len(partial.index):
            return np.ones(len(places), dtype=bool)
        half = self.setting.sizes[list(partial.index)] / 2
        low = np.minimum((partial.centres - half).min(axis=0), places - own)
        high = np.maximum((partial.centres + half).max(axis=0), places + own)
        return np.asarray((high - low <= self.limits + HAIR).all(axis=1))

    def rescored(self, group: Partial) -> Partial:
        """Score a group anew."""
        score = self.scores(group.index, group.centres[None])[0]
        return replace(group, score=float(score))

    def rescored_whole(self, groups: Sequence[Centres]) -> list[Partial]:
        """Score groups (N, 2) of all the pieces."""
        if not len(groups):
            return []
        everything = tuple(range(self.setting.count))
        scores = self.scores(everything, np.stack(groups))
        return [
            Partial(everything, centres, float(score))
            for centres, score in zip(groups, scores, strict=True)
        ]

    def scores(
        self, index: tuple[int, ...] | tuple[tuple[int, ...], ...], centres: Centres
    ) -> Floats:
        """Score partial groups (K, k, 2); -1 for those that leave the wall or enter a block.

        ``index`` names the pieces, once for all groups or for each.
        """
        setting, problem = self.setting, self.problem
        rows = np.array(index)
        sizes, masses = setting.sizes[rows], setting.masses[rows]
        boxes = np.concatenate([centres - sizes / 2, centres + sizes / 2], axis=-1)
        whole = rows.shape[-1] == setting.count
        if problem.absolute:
            blocked = setting.space.blocked(boxes)
            if problem.kept:
                # What stays may break rules; it is no fault of the others.
                blocked &= ~np.isin(rows, [index for index, _, _ in problem.kept])
            bad = blocked.any(axis=1)
        else:
            extent = boxes[..., 2:].max(axis=1) - boxes[..., :2].min(axis=1)
            bad = (extent > self.limits + HAIR).any(axis=1)
        if problem.host is not None:
            centres, sizes, masses = with_host(centres, sizes, masses, problem.host)
        m = measure(centres, sizes, masses, setting.gap_mm)
        if problem.host is not None:
            m = about_host(m, problem.host)
        return np.where(bad, -1.0, weighted(self.terms(m, whole=whole), self.weights))

    def worths(self, rows: NDArray[np.intp], centres: Centres) -> Floats:
        """Score whole groups (P, N, 2) by all that they are scored by where they rest.

        ``rows`` (P, N) says which piece each place is for.
        """
        if not len(rows):
            return np.zeros(0)
        setting = self.setting
        there = np.empty_like(centres)
        np.put_along_axis(there, rows[..., None], centres, axis=1)
        if not self.problem.absolute:
            boxes = setting.boxes(there)
            low, high = boxes[..., :2].min(axis=1), boxes[..., 2:].max(axis=1)
            rest = setting.rest_heights(high[:, 1] - low[:, 1])
            wanted = np.column_stack([np.full_like(rest, setting.space.axis_mm), rest])
            there += (wanted - (low + high) / 2)[:, None]
        return score_layouts(there, setting, context=self.problem.context).total

    def worth_of(self, groups: Sequence[Partial]) -> list[Partial]:
        """Give whole groups with what they are worth instead of the search's score."""
        if not groups:
            return []
        rows = np.array([group.index for group in groups], np.intp)
        worths = self.worths(rows, np.stack([group.centres for group in groups]))
        return [replace(g, score=float(w)) for g, w in zip(groups, worths, strict=True)]

    def terms(self, m: Measured, *, whole: bool) -> dict[str, Floats]:
        """Terms by which a group is judged, whole or still to grow."""
        terms = group_terms(m, self.setting)
        if whole:
            terms["proportion"] = proportion(m, self.setting)
        else:
            # Openings are still to be filled while a group grows.
            del terms["closed outline"], terms["straight sides"]
        if not whole or self.led:
            off = np.abs(np.log(m.size[:, 0] / m.size[:, 1] / self.aspect))
            terms["shape"] = np.clip(1 - off / 2, 0, 1)
        return terms


def group_score(problem: SearchProblem, centres: Centres) -> Floats:
    """Score whole groups (K, N, 2) as the search sees them; -1 for those that cannot hang."""
    scorer = GroupScorer(problem, search_weights(problem.setting))
    return scorer.scores(tuple(range(problem.setting.count)), centres)


def _room(setting: Setting) -> tuple[float, float]:
    """Width and height that a group may take: above the furniture, if all pieces fit there."""
    bounds, furniture = setting.space.bounds, setting.space.furniture
    if furniture is None:
        return bounds.width_mm, bounds.height_mm
    lift = setting.guidelines.furniture_clearance_min_mm
    height = bounds.top_mm - furniture.rect.top_mm - lift
    area = float(np.prod(setting.sizes + setting.gap_mm, axis=1).sum())
    if height < setting.sizes[:, 1].max() or area > 0.7 * height * bounds.width_mm:
        return bounds.width_mm, bounds.height_mm
    return bounds.width_mm, height


def _wanted_aspect(setting: Setting) -> float:
    """Width over height that a compact group would have at the width that suits the wall."""
    rules, space = setting.guidelines, setting.space
    if space.furniture is not None:
        share = (rules.furniture_share_min + rules.furniture_share_max) / 2
        width = share * space.furniture.rect.width_mm
    else:
        width = 0.5 * space.bounds.width_mm
    area = float(np.prod(setting.sizes + setting.gap_mm, axis=1).sum()) / 0.85
    width = max(width, area / (0.95 * _room(setting)[1]))
    return float(np.clip(width * width / area, 0.7, 4.0))


def distinct(partials: list[Partial], setting: Setting, keep: int) -> list[Partial]:
    """Give the best groups, without those that equal sizes make the same."""
    out: dict[bytes, Partial] = {}
    for partial in sorted(partials, key=lambda p: -round(p.score, ALIKE)):
        centred = partial.centres - partial.centres.mean(axis=0)
        rows = np.round(np.column_stack([setting.sizes[list(partial.index)], centred]), 1) + 0.0
        out.setdefault(rows[np.lexsort(rows.T[::-1])].tobytes(), partial)
        if len(out) == keep:
            break
    return list(out.values())

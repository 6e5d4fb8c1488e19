"""Building a group piece by piece: each new one hangs at the gap from one that hangs already.

A place is *normal* when the piece stands exactly one gap from a hung one that it faces, and along
the other axis either shares an edge or the centre line with it, or stands one gap from another.
The search keeps the best few partial groups at each step (a beam) and then takes single pieces
out and puts them back where they do best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.enumerating import MOST_ENUMERATED, Task, best_groups
from visualiser.arrangement.measures import (
    LEAST_FACING,
    Floats,
    about_host,
    measure,
    with_host,
)
from visualiser.arrangement.scoring import WEIGHTS, group_terms, proportion, weighted
from visualiser.arrangement.setting import Centres, Setting

Unit = tuple[int, ...]
"""A piece, or two of one size that hang as mirror images."""

ALIGNED = np.array([[-1.0], [0.0], [1.0]])
HAIR = 1e-6


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard the search tries.

    Parameters
    ----------
    beam
        Partial groups kept at each step.
    choices
        Sizes tried as the next piece of each.
    starts
        Beams from different orders.
    places
        Places tried for one piece in one partial group, the nearest to its middle.
    sweeps
        Rounds of taking each piece out and putting it back.
    renewals
        Times that a few pieces are taken out together and put back one after another.
    chains
        Groups that this is done to.
    """

    beam: int = 10
    choices: int = 3
    starts: int = 2
    places: int = 400
    sweeps: int = 3
    renewals: int = 60
    chains: int = 1

    @classmethod
    def for_count(cls, count: int) -> Effort:
        """Effort that keeps the time within a few seconds for any set."""
        if count <= 5:
            return cls(beam=20, choices=5, starts=1, places=120, renewals=15)
        if count <= 8:
            renewals = 5 * count
            return cls(4, 2, starts=2, places=64, sweeps=1, renewals=renewals, chains=2)
        if count <= 14:
            return cls(beam=4, choices=2, starts=1, places=80, sweeps=1, renewals=100)
        if count <= 24:
            return cls(beam=2, choices=1, starts=1, places=64, sweeps=1, renewals=80)
        return cls(beam=2, choices=1, starts=1, places=48, sweeps=1, renewals=30)


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
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
    """

    setting: Setting
    host: tuple[float, float, float, float] | None = None
    absolute: bool = False
    origin: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Partial:
    """Some pieces of a group and their centres."""

    index: tuple[int, ...]
    centres: Centres
    score: float = 0.0


def normal_places(
    centres: Centres, half: Floats, own: Floats, gap_mm: float, least_mm: float
) -> Centres:
    """Give every normal place (C, 2) for one piece beside pieces that hang already.

    Parameters
    ----------
    centres, half
        (K, 2) centres and half sizes of what hangs.
    own
        (2,) half size of the new piece.
    gap_mm, least_mm
        Gap to stand at, and the least one to anything else.
    """
    count = len(centres)
    x, y = centres.T
    sum_x, sum_y = (half + own).T
    flush = half - own
    touch_x = np.stack([x - sum_x - gap_mm, x + sum_x + gap_mm])
    touch_y = np.stack([y - sum_y - gap_mm, y + sum_y + gap_mm])
    places = np.empty((12 * count + 4 * count * count, 2))
    for start, axis, touch in ((0, 0, touch_x), (6 * count, 1, touch_y)):
        block = places[start : start + 6 * count].reshape(2, 3, count, 2)
        block[..., axis] = touch[:, None]
        block[..., 1 - axis] = centres[:, 1 - axis] + ALIGNED * flush[:, 1 - axis]
    corners = places[12 * count :].reshape(2 * count, 2 * count, 2)
    corners[..., 0] = touch_x.reshape(-1, 1)
    corners[..., 1] = touch_y.reshape(1, -1)
    clear_x = np.abs(places[:, :1] - x) - sum_x
    clear_y = np.abs(places[:, 1:] - y) - sum_y
    face_x, face_y = (2 * LEAST_FACING * np.minimum(half, own)).T
    apart = np.maximum(clear_x, clear_y) >= least_mm - HAIR
    joined = ((np.abs(clear_x - gap_mm) < HAIR) & (clear_y < -face_y)) | (
        (np.abs(clear_y - gap_mm) < HAIR) & (clear_x < -face_x)
    )
    good = places[apart.all(axis=1) & joined.any(axis=1)]
    return np.asarray(good[_first_of_each(good)]) if len(good) else good


def _first_of_each(rows: Floats) -> NDArray[np.intp]:
    """Index of the first of places that agree to a hundredth."""
    step = np.round((rows - rows.min(axis=0)) * 100).astype(np.int64)
    _, first = np.unique(step[:, 0] * (1 << 31) + step[:, 1], return_index=True)
    return np.sort(first)


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
    judge = _Judge(ground, weights or dict(WEIGHTS))
    symmetrical = any(len(unit) == 2 for unit in units)
    found: list[_Partial] = []
    for start in range(effort.starts):
        order = list(units)
        if start > 1:
            rng.shuffle(order)
        lead = _Judge(ground, {**judge.weights, **TIGHT}) if start % 2 else judge
        built = _beam(lead, order, effort, symmetrical=symmetrical)
        found += [judge.rated(group) for group in built] if start % 2 else built
    found += judge.rated_whole(seeds)
    found = _distinct([g for g in found if g.score >= 0], ground.setting, keep)
    if not symmetrical:
        polished = [_polished(judge, group, effort) for group in found[: max(2, keep // 2)]]
        found = _distinct(polished + found, ground.setting, keep)
        found += [_renewed(judge, group, effort, rng) for group in found[: effort.chains]]
        found = _distinct(found, ground.setting, keep)
    free = ground.host is None and not ground.absolute and not symmetrical
    if free and 2 < ground.setting.count <= MOST_ENUMERATED:
        above = found[0].score if found else 0.0
        task = Task(ground.setting, judge.limits, judge.weights)
        found += judge.rated_whole(best_groups(task, above, keep))
        found = _distinct(found, ground.setting, keep)
    return [_in_order(group) for group in found]


TIGHT = {"compact outline": 0.5, "full corners": 0.25, "balance": 0.08}
"""Weights of every second start: groups that stay closed while they grow end up better filled."""


class _Judge:
    """Scores partial groups of one ground."""

    def __init__(self, ground: Ground, weights: dict[str, float]) -> None:
        self.ground = ground
        self.setting = ground.setting
        self.weights = {**weights, "shape": 0.10}
        self.limits = np.array(_room(self.setting))
        self.aspect = _wanted_aspect(self.setting)

    def has_room(self, partial: _Partial, places: Centres, own: Floats) -> NDArray[np.bool_]:
        """Whether a piece of half size ``own`` at each place leaves the group where it may be."""
        if self.ground.absolute:
            boxes = np.concatenate([places - own, places + own], axis=1)
            return ~self.setting.space.blocked(boxes)
        if not len(partial.index):
            return np.ones(len(places), dtype=bool)
        half = self.setting.sizes[list(partial.index)] / 2
        low = np.minimum((partial.centres - half).min(axis=0), places - own)
        high = np.maximum((partial.centres + half).max(axis=0), places + own)
        return np.asarray((high - low <= self.limits + HAIR).all(axis=1))

    def rated(self, group: _Partial) -> _Partial:
        """Score a group anew."""
        score = self.scores(group.index, group.centres[None])[0]
        return replace(group, score=float(score))

    def rated_whole(self, groups: Sequence[Centres]) -> list[_Partial]:
        """Score groups (N, 2) of all the pieces."""
        if not len(groups):
            return []
        everything = tuple(range(self.setting.count))
        scores = self.scores(everything, np.stack(groups))
        return [
            _Partial(everything, centres, float(score))
            for centres, score in zip(groups, scores, strict=True)
        ]

    def scores(
        self, index: tuple[int, ...] | tuple[tuple[int, ...], ...], centres: Centres
    ) -> Floats:
        """Score partial groups (K, k, 2); -1 for those that leave the wall or enter a block.

        ``index`` names the pieces, once for all groups or for each.
        """
        setting, ground = self.setting, self.ground
        rows = np.array(index)
        sizes, masses = setting.sizes[rows], setting.masses[rows]
        boxes = np.concatenate([centres - sizes / 2, centres + sizes / 2], axis=-1)
        whole = rows.shape[-1] == setting.count
        if ground.absolute:
            bad = setting.space.blocked(boxes).any(axis=1)
        else:
            extent = boxes[..., 2:].max(axis=1) - boxes[..., :2].min(axis=1)
            bad = (extent > self.limits + HAIR).any(axis=1)
        if ground.host is not None:
            centres, sizes, masses = with_host(centres, sizes, masses, ground.host)
        m = measure(centres, sizes, masses, setting.gap_mm)
        if ground.host is not None:
            m = about_host(m, ground.host)
        terms = group_terms(m)
        if whole:
            terms["proportion"] = proportion(m, setting)
        else:
            # Corners are still to be filled while a group grows.
            del terms["full corners"]
            off = np.abs(np.log(m.size[:, 0] / m.size[:, 1] / self.aspect))
            terms["shape"] = np.clip(1 - off / 2, 0, 1)
        return np.where(bad, -1.0, weighted(terms, self.weights))


def group_score(ground: Ground, centres: Centres) -> Floats:
    """Score whole groups (K, N, 2) as the search sees them; -1 for those that cannot hang."""
    judge = _Judge(ground, dict(WEIGHTS))
    return judge.scores(tuple(range(ground.setting.count)), centres)


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


def _beam(judge: _Judge, order: list[Unit], effort: Effort, *, symmetrical: bool) -> list[_Partial]:
    """Build from the first unit outward, keeping the best few at each step."""
    ground = judge.ground
    partials = _seeds(ground, order, effort, symmetrical=symmetrical)
    while partials and len(partials[0].index) < judge.setting.count:
        grown: list[tuple[tuple[int, ...], Centres]] = []
        for partial in partials:
            for unit in _next_units(partial, order, effort, judge.setting, symmetrical):
                places = _places(judge, partial, unit, effort, symmetrical=symmetrical)
                if len(places):
                    grown.append((partial.index + unit, places))
        if not grown:
            return []
        index = tuple(i for rows, places in grown for i in [rows] * len(places))
        centres = np.concatenate([places for _, places in grown])
        scores = judge.scores(index, centres)
        best = np.argsort(-scores, kind="stable")[: 6 * effort.beam]
        partials = _distinct(
            [_Partial(index[i], centres[i], float(scores[i])) for i in best if scores[i] >= 0],
            judge.setting,
            effort.beam,
        )
    return partials


def _seeds(
    ground: Ground, order: list[Unit], effort: Effort, *, symmetrical: bool
) -> list[_Partial]:
    """Start from one unit each."""
    if ground.host is not None:
        return [_Partial((), np.zeros((0, 2)))]
    at = np.array(ground.origin)
    firsts = order[:1] if symmetrical else _kinds(order, ground.setting)[: effort.choices]
    out = []
    for unit in firsts:
        if len(unit) == 2:
            away = (ground.setting.sizes[unit[0], 0] + ground.setting.gap_mm) / 2
            out.append(_Partial(unit, np.array([at - (away, 0.0), at + (away, 0.0)])))
        else:
            out.append(_Partial(unit, at[None].copy()))
    return out


def _kinds(units: list[Unit], setting: Setting) -> list[Unit]:
    """Give the first unit of each size."""
    seen: dict[tuple[float, ...], Unit] = {}
    for unit in units:
        seen.setdefault((*setting.sizes[unit[0]].tolist(), len(unit)), unit)
    return list(seen.values())


def _next_units(
    partial: _Partial, order: list[Unit], effort: Effort, setting: Setting, symmetrical: bool
) -> list[Unit]:
    left = [unit for unit in order if unit[0] not in partial.index]
    if symmetrical:
        return left[:1]
    return _kinds(left, setting)[: effort.choices]


def _places(
    judge: _Judge, partial: _Partial, unit: Unit, effort: Effort, *, symmetrical: bool
) -> Centres:
    """Grown groups (C, k + 1 or 2, 2)."""
    ground, setting = judge.ground, judge.setting
    own = setting.sizes[unit[0]] / 2
    hosts, half = partial.centres, setting.sizes[list(partial.index)] / 2
    if ground.host is not None:
        x, y, width, height = ground.host
        hosts = np.concatenate([[(x, y)], hosts])
        half = np.concatenate([[(width / 2, height / 2)], half])
    gap, least = setting.gap_mm, setting.guidelines.gap_min_mm
    places = normal_places(hosts, half, own, gap, least)
    axis = ground.origin[0]
    if symmetrical and len(unit) == 2:
        beside = places[places[:, 0] >= axis + own[0] + gap / 2 - HAIR]
        near = places.copy()
        near[:, 0] = axis + own[0] + gap / 2
        places = np.concatenate([beside, _clear_of(near, hosts, half, own, least)])
    elif symmetrical:
        on_axis = places.copy()
        on_axis[:, 0] = axis
        places = _clear_of(on_axis, hosts, half, own, least)
    if len(places) > effort.places:
        places = places[judge.has_room(partial, places, own)]
    if len(places) > effort.places:
        middle = (hosts.min(axis=0) + hosts.max(axis=0)) / 2
        far = np.hypot(*(places - middle).T)
        places = places[np.argsort(far, kind="stable")[: effort.places]]
    kept = np.broadcast_to(partial.centres, (len(places), *partial.centres.shape))
    if len(unit) == 2:
        twin = places * (-1.0, 1.0) + (2 * axis, 0.0)
        return np.concatenate([kept, places[:, None], twin[:, None]], axis=1)
    return np.concatenate([kept, places[:, None]], axis=1)


def _clear_of(places: Centres, hosts: Centres, half: Floats, own: Floats, least: float) -> Centres:
    """Keep the different places that are far enough from everything."""
    if not len(places):
        return places
    places = places[_first_of_each(places)]
    clear = np.abs(places[:, None] - hosts) - half - own
    return np.asarray(places[(clear.max(axis=2) >= least - HAIR).all(axis=1)])


def _distinct(partials: list[_Partial], setting: Setting, keep: int) -> list[_Partial]:
    """Give the best groups, without those that equal sizes make the same."""
    out: dict[bytes, _Partial] = {}
    for partial in sorted(partials, key=lambda p: -p.score):
        centred = partial.centres - partial.centres.mean(axis=0)
        rows = np.round(np.column_stack([setting.sizes[list(partial.index)], centred]), 1) + 0.0
        out.setdefault(rows[np.lexsort(rows.T[::-1])].tobytes(), partial)
        if len(out) == keep:
            break
    return list(out.values())


def _polished(judge: _Judge, group: _Partial, effort: Effort) -> _Partial:
    """Take each piece out in turn and put it back where the group does best."""
    for _ in range(effort.sweeps):
        before = group.score
        for position in range(len(group.index)):
            group = _moved_best(judge, group, position, effort)
        if group.score <= before + 1e-9:
            break
    return group


def _renewed(judge: _Judge, group: _Partial, effort: Effort, rng: np.random.Generator) -> _Partial:
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
    judge: _Judge, group: _Partial, leave: NDArray[np.intp], effort: Effort
) -> _Partial | None:
    """Put pieces back one by one where each does best; None when one has no place."""
    stay = [k for k in range(len(group.index)) if k not in leave]
    now = _Partial(tuple(group.index[k] for k in stay), group.centres[stay])
    for k in leave:
        unit = (group.index[k],)
        places = _places(judge, now, unit, effort, symmetrical=False)
        if not len(places):
            return None
        index = now.index + unit
        scores = judge.scores(index, places)
        best = int(np.argmax(scores))
        if scores[best] < 0:
            return None
        now = _Partial(index, places[best], float(scores[best]))
    return now


def _moved_best(judge: _Judge, group: _Partial, position: int, effort: Effort) -> _Partial:
    rest = tuple(i for k, i in enumerate(group.index) if k != position)
    if not rest and judge.ground.host is None:
        return group
    partial = _Partial(rest, np.delete(group.centres, position, axis=0))
    unit = (group.index[position],)
    places = _places(judge, partial, unit, effort, symmetrical=False)
    if not len(places):
        return group
    index = rest + unit
    scores = judge.scores(index, places)
    best = int(np.argmax(scores))
    if scores[best] <= group.score + 1e-9:
        return group
    return _Partial(index, places[best], float(scores[best]))


def _in_order(group: _Partial) -> Centres:
    out = np.empty_like(group.centres)
    out[list(group.index)] = group.centres
    return out

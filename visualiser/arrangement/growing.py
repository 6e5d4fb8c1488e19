"""Growing groups from one piece outward, the best few at each step (a beam)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from visualiser.arrangement.ground import Ground, Judge, Partial, distinct
from visualiser.arrangement.places import HAIR, clear_of, normal_places
from visualiser.arrangement.setting import Centres, Setting

Unit = tuple[int, ...]
"""A piece, or two of one size that hang as mirror images."""


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
        Times that a few pieces of each are taken out together and put back one after another.
    looked_at
        Places looked at closely for a piece that is put back.
    exact
        Whether small sets are also built, or begun, in every way.
    """

    beam: int = 10
    choices: int = 3
    starts: int = 2
    places: int = 400
    chains: int = 24
    renewals: int = 60
    looked_at: int = 24
    exact: bool = True

    @classmethod
    def for_count(cls, count: int) -> Effort:
        """Effort that keeps the time within a few seconds for any set."""
        if count <= 5:
            return cls(beam=20, choices=5, starts=1, places=120, chains=16, renewals=15)
        if count == 6:
            return cls(beam=4, choices=2, starts=2, places=64, renewals=30, looked_at=12)
        if count <= 9:
            return cls(beam=4, choices=2, starts=2, places=64, renewals=140)
        if count <= 14:
            return cls(beam=4, choices=2, starts=1, places=80, renewals=80)
        if count <= 24:
            return cls(beam=2, choices=1, starts=1, places=64, chains=20, renewals=60)
        return cls(beam=2, choices=1, starts=1, places=48, chains=12, renewals=60)


def beam(judge: Judge, order: list[Unit], effort: Effort, *, symmetrical: bool) -> list[Partial]:
    """Build from the first unit outward, keeping the best few at each step."""
    ground = judge.ground
    partials = _seeds(ground, order, effort, symmetrical=symmetrical)
    while partials and len(partials[0].index) < judge.setting.count:
        grown: list[tuple[tuple[int, ...], Centres]] = []
        for partial in partials:
            for unit in _next_units(partial, order, effort, judge.setting, symmetrical):
                places = grown_groups(judge, partial, unit, effort, symmetrical=symmetrical)
                if len(places):
                    grown.append((partial.index + unit, places))
        if not grown:
            return []
        index = tuple(i for rows, places in grown for i in [rows] * len(places))
        centres = np.concatenate([places for _, places in grown])
        scores = judge.scores(index, centres)
        best = np.argsort(-scores, kind="stable")[: 6 * effort.beam]
        partials = distinct(
            [Partial(index[i], centres[i], float(scores[i])) for i in best if scores[i] >= 0],
            judge.setting,
            effort.beam,
        )
    return partials


def _seeds(
    ground: Ground, order: list[Unit], effort: Effort, *, symmetrical: bool
) -> list[Partial]:
    """Start from one unit each."""
    if ground.host is not None:
        return [Partial((), np.zeros((0, 2)))]
    at = np.array(ground.origin)
    firsts = order[:1] if symmetrical else _kinds(order, ground.setting)[: effort.choices]
    out = []
    for unit in firsts:
        if len(unit) == 2:
            away = (ground.setting.sizes[unit[0], 0] + ground.setting.gap_mm) / 2
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
    judge: Judge, partial: Partial, unit: Unit, effort: Effort, *, symmetrical: bool
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
        places = np.concatenate([beside, clear_of(near, hosts, half, own, least)])
    elif symmetrical:
        on_axis = places.copy()
        on_axis[:, 0] = axis
        places = clear_of(on_axis, hosts, half, own, least)
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

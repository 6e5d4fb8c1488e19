"""Move single pieces of whole groups, or exchange two, as long as the whole score rises.

Groups are built by what they are in themselves; here they are bettered by everything that they are
scored by where they hang. No lot is drawn: the best move is made each time (steepest ascent).
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import numpy as np

from visualiser.arrangement.measures import MeasuringContext
from visualiser.arrangement.neighbours import LINE_SHARE, scale_of
from visualiser.arrangement.places import normal_places
from visualiser.arrangement.scoring import score_layouts
from visualiser.arrangement.setting import Centres, Setting

MOST_MOVES = 6
PLACES = 300
"""Places tried for all the pieces together, for each those nearest to the middle of the group, and
lines of edges brought together, those first that miss each other least."""
LEAST_GAIN = 0.02
LEAST_EVEN = 0.9
"""Evenness of gaps, of 1, below which no move may bring a group."""
ONE = np.ones(1)
ALIKE = 0.02
"""Gaps by which sizes may differ and still be one."""
HAIR = 1e-6


def polished(
    centres: Centres,
    setting: Setting,
    weights: Mapping[str, float],
    context: MeasuringContext,
) -> tuple[Centres, float]:
    """Make the best move again and again; give the group (N, 2) and its score."""
    scores = score_layouts(centres[None], setting, weights, context)
    now, even = float(scores.total[0]), float(scores.terms.get("even gaps", ONE)[0])
    for _ in range(MOST_MOVES):
        ways = (_moved, _exchanged, _lined_up)
        tries = _hung(np.concatenate([way(centres, setting) for way in ways]), setting)
        if not len(tries):
            break
        scores = score_layouts(tries, setting, weights, context)
        totals = np.round(scores.total, 6)
        if "even gaps" in scores.terms:
            # Edges are not lined up at the cost of gaps that show.
            uneven = scores.terms["even gaps"] < min(LEAST_EVEN, even) - HAIR
            totals = np.where(uneven, -1.0, totals)
        best = int(np.argmax(totals))
        if totals[best] <= now + LEAST_GAIN:
            break
        centres, now = tries[best], float(totals[best])
    return centres, now


def _moved(centres: Centres, setting: Setting) -> Centres:
    """Move one piece to another normal place, in every way (K, N, 2)."""
    rules, half = setting.guidelines, setting.sizes / 2
    out = []
    for piece in range(setting.count):
        others = [k for k in range(setting.count) if k != piece]
        places = normal_places(
            centres[others], half[others], half[piece], setting.gap_mm, rules.gap_min_mm
        )
        low = (centres[others] - half[others]).min(axis=0)
        high = (centres[others] + half[others]).max(axis=0)
        far = np.abs((places - (low + high) / 2) / (high - low)).max(axis=1)
        places = places[np.argsort(np.round(far, 9), kind="stable")[: PLACES // setting.count]]
        tries = np.repeat(centres[None], len(places), axis=0)
        tries[:, piece] = places
        out.append(tries)
    return np.concatenate(out)


def _exchanged(centres: Centres, setting: Setting) -> Centres:
    """Exchange two unlike pieces where no gap gets too small, in every way (K, N, 2)."""
    pairs = [
        pair
        for pair in combinations(range(setting.count), 2)
        if np.abs(setting.sizes[pair[0]] - setting.sizes[pair[1]]).max() > ALIKE * setting.gap_mm
    ]
    tries = np.repeat(centres[None], len(pairs), axis=0)
    for row, (one, two) in zip(tries, pairs, strict=True):
        row[[one, two]] = row[[two, one]]
    return _clear(tries, setting)


def _lined_up(centres: Centres, setting: Setting) -> Centres:
    """Bring edges that miss each other by up to a gap into one line, in every way (K, N, 2).

    One piece moves, or all that share its edge; the gaps beside them open or close.
    """
    half, reach = setting.sizes / 2, setting.gap_mm
    hair = LINE_SHARE * scale_of(setting.gap_mm)
    tries = []
    for axis in (0, 1):
        for side in (-1, 0, 1):
            edges = centres[:, axis] + side * half[:, axis]
            off = edges[None] - edges[:, None]
            for one, two in np.argwhere((np.abs(off) > hair) & (np.abs(off) <= reach)):
                alone = np.arange(setting.count) == one
                for moving in (alone, np.abs(edges - edges[one]) <= hair):
                    tried = centres.copy()
                    tried[moving, axis] += off[one, two]
                    tries.append(tried)
    if not tries:
        return np.empty((0, *centres.shape))
    every = _clear(np.stack(tries), setting)
    _, first = np.unique(np.round(every, 3), axis=0, return_index=True)
    far = np.abs(every[first] - centres).max(axis=(1, 2))
    return every[first[np.argsort(np.round(far, 6), kind="stable")[:PLACES]]]


def _clear(tries: Centres, setting: Setting) -> Centres:
    """Keep the groups in which no gap is too small."""
    half = setting.sizes / 2
    clear = np.abs(tries[:, :, None] - tries[:, None]) - half[:, None] - half[None]
    apart = clear.max(axis=3) >= setting.guidelines.gap_min_mm - HAIR
    apart[:, np.arange(setting.count), np.arange(setting.count)] = True
    return np.asarray(tries[apart.all(axis=(1, 2))])


def _hung(tries: Centres, setting: Setting) -> Centres:
    """Bring groups to where they rest and leave out those that find no room there."""
    boxes = setting.boxes(tries)
    low, high = boxes[..., :2].min(axis=1), boxes[..., 2:].max(axis=1)
    rest = setting.rest_heights(high[:, 1] - low[:, 1])
    wanted = np.column_stack([np.full(len(tries), setting.space.axis_mm), rest])
    there = tries + (wanted - (low + high) / 2)[:, None]
    free = ~setting.space.blocked(setting.boxes(there)).any(axis=1)
    return np.asarray(there[free & (rest <= setting.highest_centre + HAIR)])

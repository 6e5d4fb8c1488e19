"""Which of many good layouts are offered: good ones that differ to the eye.

A person who is shown three proposals chooses among three ideas. Two that only exchange like sizes,
shift a piece a little or turn the group over are one idea, so the next proposal is the one that is
best for its score and for being unlike those taken already (maximal marginal relevance: Carbonell
and Goldstein, SIGIR 1998; what counts as like, and the points, are ours).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from visualiser.arrangement.furnishings import ledges
from visualiser.arrangement.measures import MeasuringContext
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.setting import Centres, Setting

TURNS = np.array([(1, 1, 1, 1), (-1, 1, -1, 1), (1, -1, 1, -1), (-1, -1, -1, -1)], np.float64)
"""Signs of a group's sides as it hangs, mirrored, upside down, and both."""
SAME = 0.75
"""Likeness from which two layouts are one idea: pieces cover three quarters of each other."""
LIKE_POINTS = 10.0
"""Points that a layout loses for being as like one that is offered already as it may be; half as
like costs a quarter."""
FAMILY_POINTS = 2.0
"""Points that it loses for being of the same family."""
LINE_POINTS = 6.0
"""Points that it loses for being one line too, where only the order of pieces can differ."""
OFFERED = 75.0
"""Points from which a further layout is offered; the best always is. Of the judged drawings
that score so and are not the best of their set one in twenty was rejected."""
ABOVE_LEDGE = 0.1
"""Share of a ledge's width by which a group above it may hang off its middle."""
SPECIAL_POINTS = 0.5
"""Points that a layout may score less and still give its family's name to one just like it."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A layout that has been scored.

    Parameters
    ----------
    family, variant
        What it is.
    centres
        (N, 2) where the pieces hang.
    score
        From 0 to 100.
    context
        What it was measured with.
    line
        Which way its family's one line runs, if it is one.
    """

    family: str
    variant: str
    centres: Centres
    score: float
    context: MeasuringContext
    line: str = ""


def likeness(a: Centres, b: Centres, setting: Setting) -> float:
    """How alike two layouts look, from 0 to 1: as hung, or one of them turned over.

    Each piece of the one is held against whichever piece of the other covers the same place best
    (shared area over joint area), with the middles of both groups brought together; where each
    group hangs on the wall does not count. Which piece hangs where counts by its size alone.
    """
    return float(likenesses(a, b[None], setting)[0])


def likenesses(a: Centres, others: Centres, setting: Setting) -> Floats:
    """How alike a layout (N, 2) is to each of others (K, N, 2); see `likeness`."""
    area = np.prod(setting.sizes, axis=1)
    own, there = _about_middle(a[None], setting), _about_middle(others, setting)
    best = np.zeros(len(others))
    for turn in TURNS:
        ways = turn * there
        low = np.minimum(ways[..., :2], ways[..., 2:])[:, None]
        high = np.maximum(ways[..., :2], ways[..., 2:])[:, None]
        both = np.ones((len(others), setting.count, setting.count))
        for axis in (0, 1):
            first = np.maximum(own[:, :, None, axis], low[..., axis])
            both *= np.maximum(np.minimum(own[:, :, None, 2 + axis], high[..., axis]) - first, 0)
        shared = both / (area[:, None] + area - both)
        each = np.minimum(shared.max(axis=1).mean(axis=1), shared.max(axis=2).mean(axis=1))
        best = np.maximum(best, each)
    return best


def _about_middle(centres: Centres, setting: Setting) -> Floats:
    """Boxes (K, N, 4) with the middle of each group brought to the origin."""
    boxes = setting.boxes(centres)
    middle = (boxes[..., :2].min(axis=1) + boxes[..., 2:].max(axis=1)) / 2
    return np.asarray(boxes - np.tile(middle, 2)[:, None])


def varied(
    items: Sequence[Candidate], count: int, setting: Setting, *, one_of_a_kind: bool = False
) -> list[Candidate]:
    """Choose layouts to offer, best first.

    Parameters
    ----------
    items
        What there is, special families before general ones: of two just alike the first that
        scores about as much gives the name.
    count
        How many to choose at most.
    setting
        The pieces.
    one_of_a_kind
        Whether one layout of each family is offered at most.
    """
    left = sorted(items, key=lambda item: -item.score)
    if one_of_a_kind:
        # Better fewer than such as readers of drawings would reject.
        left = [item for item in left if item.score >= OFFERED or item is left[0]]
    rank = {family: k for k, family in enumerate(dict.fromkeys(item.family for item in items))}
    picked: list[Candidate] = []
    penalty = dict.fromkeys(map(id, left), 0.0)
    while left and len(picked) < count:
        best = max(left, key=lambda item: item.score - penalty[id(item)])
        named = [
            item
            for item in left
            if rank[item.family] < rank[best.family]
            and item.score >= best.score - SPECIAL_POINTS
            and likeness(item.centres, best.centres, setting) > 0.9
        ]
        picked.append(min(named, key=lambda item: rank[item.family], default=best))
        there = np.stack([item.centres for item in left])
        like = likenesses(picked[-1].centres, there, setting).tolist()
        alike = {id(item): share for item, share in zip(left, like, strict=True)}
        left = [item for item in left if alike[id(item)] < SAME]
        if one_of_a_kind:
            left = [item for item in left if item.family != picked[-1].family]
        for item in left:
            lost = LIKE_POINTS * (alike[id(item)] / SAME) ** 2
            if item.line and item.line == picked[-1].line:
                lost += LINE_POINTS
            if item.family == picked[-1].family:
                lost += LINE_POINTS if item.line else FAMILY_POINTS
            penalty[id(item)] = max(penalty[id(item)], lost)
    return sorted(picked, key=lambda item: -item.score)


def without_empty_ledge(best: list[Candidate], setting: Setting) -> list[Candidate]:
    """Leave out groups beside a picture ledge that takes all the pieces: it would stay empty."""
    tops = ledges(setting.survey, setting.guidelines)
    if not any(item.context.kind == "standing" for item in best):
        return best

    def above(item: Candidate) -> bool:
        boxes = setting.boxes(item.centres)
        x = (boxes[:, 0].min() + boxes[:, 2].max()) / 2
        return any(
            boxes[:, 1].min() > ledge.top_mm
            and abs(x - ledge.centre_mm[0]) <= ABOVE_LEDGE * ledge.width_mm
            for ledge in tops
        )

    return [item for item in best if item.context.kind == "standing" or above(item)]

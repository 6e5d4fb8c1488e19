"""Pieces that follow a line of the room: up a stair, or standing on a ledge."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.families.lines import line_up, orders
from visualiser.arrangement.measures import MeasuringContext
from visualiser.arrangement.setting import Centres, Setting, stair_rise
from visualiser.arrangement.space import is_ledge
from visualiser.geometry import Rect


def _stair(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    context = MeasuringContext(rise=stair_rise(setting) or 0.0)
    level = np.ptp(setting.sizes[:, 1]) < 1e-9
    aligns = ((0.0, "centres"), (-1.0, "lower edges"), (1.0, "upper edges"))
    for align, words in aligns[: 1 if level else 3]:
        for order in orders(setting.sizes):
            centres = line_up(setting.sizes, order, setting.gap_mm, 0, align)
            centres[:, 1] += context.rise * centres[:, 0]
            yield Layout(centres, f"{words} on the slope", context=context)
    if setting.count >= 4:
        for centres in _two_high(setting):
            centres[:, 1] += context.rise * centres[:, 0]
            yield Layout(centres, "two high along the slope", context=context)


def _two_high(setting: Setting) -> Iterator[Centres]:
    """Columns of two pieces of like width; one piece is left alone where the number is odd.

    That is the tallest, which comes nearest to two of the others.
    """
    sizes, gap = setting.sizes, setting.gap_mm
    alone = [int(np.argmax(sizes[:, 1]))] if setting.count % 2 else []
    rest = sorted(set(range(setting.count)) - set(alone), key=lambda i: -sizes[i, 0])
    columns = [rest[k : k + 2] for k in range(0, len(rest), 2)] + [[i] for i in alone]
    outer = np.array([(sizes[c, 0].max(), sizes[c, 1].sum() + gap * (len(c) - 1)) for c in columns])
    for order in orders(outer):
        middles = line_up(outer, order, gap, 0, 0.0)
        for flip in (1, -1):
            centres = np.empty_like(sizes)
            for column, middle in zip(columns, middles, strict=True):
                stack = line_up(sizes[column], tuple(range(len(column))[::flip]), gap, 1, 0.0)
                bottom = (stack[:, 1] - sizes[column, 1] / 2).min()
                height = (stack[:, 1] + sizes[column, 1] / 2).max() - bottom
                centres[column] = stack + middle - (0.0, bottom + height / 2)
            yield centres


def ledges(setting: Setting) -> list[Rect]:
    """Shelves that pieces can stand on; a typed height runs along the whole wall."""
    bounds = setting.space.bounds
    out = [item.rect for item in setting.survey.furniture if is_ledge(item)]
    if setting.guidelines.ledge_height_mm is not None:
        out.append(Rect(bounds.left_mm, setting.guidelines.ledge_height_mm, bounds.width_mm, 0.0))
    return out


def _ledge(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    for ledge in ledges(setting):
        for order in orders(setting.sizes):
            centres = line_up(setting.sizes, order, setting.gap_mm, 0, -1.0)
            boxes = setting.boxes(centres)
            middle = (boxes[:, 0].min() + boxes[:, 2].max()) / 2
            at = centres + (ledge.centre_mm[0] - middle, ledge.top_mm)
            box = setting.boxes(at)
            if box[:, 0].min() >= ledge.left_mm - 1 and box[:, 2].max() <= ledge.right_mm + 1:
                yield Layout(at, "standing", fixed=True)


STAIR = Family(
    "stair",
    "three pieces or more along a stair: a wall whose lower side slopes, or a given slope",
    lambda s: s.count >= 3 and stair_rise(s) is not None,
    _stair,
)
LEDGE = Family(
    "ledge",
    "pieces that stand on a shelf or ledge long enough for them all",
    lambda s: bool(ledges(s)),
    _ledge,
    "across",
)

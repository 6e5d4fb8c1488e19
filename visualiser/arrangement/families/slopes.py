"""Pieces that follow a line of the room: up a stair, or standing on a ledge."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.families.lines import line_up, orders
from visualiser.arrangement.measures import Frame
from visualiser.arrangement.setting import Setting
from visualiser.arrangement.space import floor_rise, is_ledge
from visualiser.geometry import Rect


def stair_rise(setting: Setting) -> float | None:
    """Rise over run of the stair: as given, or of the outline's sloping lower side."""
    if setting.guidelines.stair_slope_deg is not None:
        return math.tan(math.radians(setting.guidelines.stair_slope_deg))
    return floor_rise(setting.survey.outline) or None


def _stair(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    rise = stair_rise(setting) or 0.0
    for order in orders(setting.sizes):
        centres = line_up(setting.sizes, order, setting.gap_mm, 0, 0.0)
        centres[:, 1] = rise * centres[:, 0]
        yield Layout(centres, "centres on the slope", frame=Frame(rise=rise))


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
)

"""Pieces that follow a line of the room: up a stair, or stepping down under a roof."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.families.lines import line_up, orders, two_high
from visualiser.arrangement.measures import MeasuringContext
from visualiser.arrangement.setting import Setting, ceiling_rise, stair_rise


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
        for centres in two_high(setting):
            centres[:, 1] += context.rise * centres[:, 0]
            yield Layout(centres, "two high along the slope", context=context)


def _under_slope(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    """Lines of pieces that step down with the roof, the tallest where it is highest."""
    rise = ceiling_rise(setting) or 0.0
    by_height = np.argsort(setting.sizes[:, 1] * math.copysign(1, rise), kind="stable")
    order = tuple(int(k) for k in by_height)
    context = MeasuringContext(rise=rise, kind="slope")
    for align, words in ((1.0, "upper edges"), (0.0, "centres")):
        centres = line_up(setting.sizes, order, setting.gap_mm, 0, align)
        centres[:, 1] += rise * centres[:, 0]
        yield Layout(centres, f"{words} step with the slope", context=context)


STAIR = Family(
    "stair",
    "three pieces or more along a stair: a wall whose lower side slopes, or a given slope",
    lambda s: s.count >= 3 and stair_rise(s) is not None,
    _stair,
)
UNDER_SLOPE = Family(
    "under a slope",
    "two to seven pieces on a wall whose upper side slopes",
    lambda s: 2 <= s.count <= 7 and ceiling_rise(s) is not None,
    _under_slope,
    "across",
)

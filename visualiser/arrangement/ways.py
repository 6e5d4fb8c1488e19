"""Which ways of hanging people who hang groups sign as they are, and which hardly ever."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from visualiser.arrangement.measures import Kind, MeasuringContext
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.setting import Setting, stair_rise, takes_all

WAYS: Mapping[Kind, float] = MappingProxyType({"column": 0.1, "staggered": 0.0, "around": 0.0})
"""How often readers signed such groups, beside 1 for rows, grids, flanks and ledges. What readers
hardly ever signed has 0, which spoils the whole score."""
LEAST_HALVES = 0.5
"""The same of halves either side of an object that do not match; the more they do, the nearer 1."""
MASSES: frozenset[Kind] = frozenset(("salon", "rows", "stacked row"))
"""Ways in which mixed sizes hang as one mass: signed the oftener, the fuller a rectangle it is."""
FULL = (0.55, 0.85)
"""Fullness of a rectangle from which some, and at which about all such groups were signed."""
MASS = (0.05, 0.85)
"""What such a group counts at least and at most: an orderly row as good goes before it."""
FILLED = (0.70, 0.95)
"""Share of an outline that frames and gaps fill, at which it counts as loose and as full."""
EVEN = (0.5, 0.9)
"""Evenness of the gaps of one mass, at which they spoil it and at which they do not show."""


def fullness(terms: Mapping[str, Floats], context: MeasuringContext) -> Floats:
    """Measure how nearly groups (K,) are one full rectangle: filled, closed, unbroken, flush.

    From 0 to 1. What is filled at the cost of gaps that show is none; those of rows open as one.
    """
    low, high = FILLED
    filled = np.clip((terms["compact outline"] - low) / (high - low), 0, 1)
    others = (terms[name] for name in ("closed outline", "no holes", "straight sides"))
    full = (filled + sum(others)) / 4
    if context.kind == "salon":
        low, high = EVEN
        full = full * np.clip((terms["even gaps"] - low) / (high - low), 0, 1)
    return np.asarray(full)


def usual_way(
    symmetry: Floats, full: Floats, setting: Setting, context: MeasuringContext
) -> Floats:
    """How often groups (K,) hung in this way were signed; 0 for what was hardly ever."""
    if ignored(setting, context):
        return np.zeros_like(symmetry)
    if context.kind == "flank":
        return np.maximum(symmetry, LEAST_HALVES)
    if context.kind in MASSES:
        low, high = FULL
        return np.clip((full - low) / (high - low), *MASS)
    return np.full_like(symmetry, WAYS.get(context.kind, 1.0))


def ignored(setting: Setting, context: MeasuringContext) -> str:
    """Say what of the room a group of several pieces takes no heed of; empty: nothing.

    Of 33 judged drawings with a stair or a ledge ignored, or the wall over a bed left bare, none
    was signed.
    """
    if setting.count == 1 or context.kind == "standing":
        return ""
    if context.low:
        return "It leaves the wall bare above what it hangs beside."
    if stair_rise(setting) and not context.rise:
        return "It hangs level above a stair, whose rise groups follow."
    if takes_all(setting):
        return "It hangs where there is a picture ledge, on which groups stand."
    return ""


def way_in_words(value: float, setting: Setting, context: MeasuringContext) -> str:
    """Say how often this way of hanging is signed, or why it is not."""
    if said := ignored(setting, context):
        return said
    often = "often" if value > 0.75 else "now and then" if value > 0.25 else "seldom"
    return f"People who hang groups {often} sign this way of hanging as it is."

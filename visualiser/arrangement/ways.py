"""Which ways of hanging people who hang groups sign as they are, and which hardly ever."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from visualiser.arrangement.measures import Kind, MeasuringContext
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.setting import Setting, stair_rise, takes_all

WAYS: Mapping[Kind, float] = MappingProxyType(
    {"salon": 0.5, "column": 0.1, "staggered": 0.0, "around": 0.0}
)
"""How often readers signed such groups, beside 1 for rows, grids, flanks and ledges. Unlike halves
either side of an object come as near to 1 as they match, and not below a salon hang. What readers
hardly ever signed has 0, which spoils the whole score."""


def usual_way(symmetry: Floats, setting: Setting, context: MeasuringContext) -> Floats:
    """How often groups (K,) hung in this way were signed; 0 for what was hardly ever."""
    if ignored(setting, context):
        return np.zeros_like(symmetry)
    if context.kind == "flank":
        return np.maximum(symmetry, WAYS["salon"])
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

"""The families of arrangements, by their trade names."""

from visualiser.arrangement.families.boxes import BOXED, STACKED_PAIR
from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.families.grids import GRID, STAGGERED
from visualiser.arrangement.families.lines import COLUMN, PAIR, ROW, SINGLE, TRIPTYCH
from visualiser.arrangement.families.salons import AROUND, FITTED, SALON, SYMMETRIC_SALON
from visualiser.arrangement.families.slopes import LEDGE, STAIR

# The special before the general: of two that look the same the first is named.
FAMILIES: dict[str, Family] = {
    family.name: family
    for family in (
        SINGLE,
        PAIR,
        TRIPTYCH,
        STACKED_PAIR,
        GRID,
        ROW,
        COLUMN,
        STAGGERED,
        STAIR,
        LEDGE,
        AROUND,
        BOXED,
        SYMMETRIC_SALON,
        SALON,
    )
}

LAST_RESORT = FITTED
"""Tried, unless families are named, only when no layout of any other family finds room."""

__all__ = ["FAMILIES", "LAST_RESORT", "Family", "Layout"]

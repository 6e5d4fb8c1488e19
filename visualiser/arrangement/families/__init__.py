"""The families of arrangements, by their trade names."""

from visualiser.arrangement.families.boxes import BOXED, STACKED_PAIR
from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.families.flanks import CORNER, FLANKING, OVER_A_DOOR, TWO_GROUPS
from visualiser.arrangement.families.grids import GRID, LARGER_IN_GRID, STAGGERED
from visualiser.arrangement.families.halves import BALANCED_HALVES
from visualiser.arrangement.families.lines import COLUMN, PAIR, PICTURE_RAIL, ROW, SINGLE, TRIPTYCH
from visualiser.arrangement.families.salons import (
    AROUND,
    AROUND_KEPT,
    FITTED,
    SALON,
    SYMMETRIC_SALON,
)
from visualiser.arrangement.families.slopes import STAIR, UNDER_SLOPE
from visualiser.arrangement.families.stacked_row import STACKED_ROW
from visualiser.arrangement.families.standing import LEDGE
from visualiser.arrangement.families.three_rows import THREE_ROWS
from visualiser.arrangement.families.two_rows import TWO_ROWS

# The special before the general: of two that look the same the first is named.
FAMILIES: dict[str, Family] = {
    family.name: family
    for family in (
        LEDGE,
        FLANKING,
        TWO_GROUPS,
        CORNER,
        BALANCED_HALVES,
        OVER_A_DOOR,
        PICTURE_RAIL,
        UNDER_SLOPE,
        SINGLE,
        PAIR,
        TRIPTYCH,
        STACKED_PAIR,
        GRID,
        LARGER_IN_GRID,
        ROW,
        STACKED_ROW,
        TWO_ROWS,
        THREE_ROWS,
        COLUMN,
        STAGGERED,
        STAIR,
        AROUND,
        BOXED,
        SYMMETRIC_SALON,
        SALON,
        AROUND_KEPT,
    )
}

LAST_RESORT = FITTED
"""Tried, unless families are named, only when no layout of any other family finds room."""

__all__ = ["FAMILIES", "LAST_RESORT", "Family", "Layout"]

"""The families of arrangements, by their trade names."""

from visualiser.arrangement.families.boxes import BOXED, STACKED_PAIR
from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.families.grids import GRID
from visualiser.arrangement.families.lines import COLUMN, PAIR, ROW, SINGLE, TRIPTYCH
from visualiser.arrangement.families.salons import AROUND, SALON, SYMMETRIC_SALON
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
        STAIR,
        LEDGE,
        AROUND,
        BOXED,
        SYMMETRIC_SALON,
        SALON,
    )
}

__all__ = ["FAMILIES", "Family", "Layout"]

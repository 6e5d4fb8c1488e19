"""The families of arrangements, by their trade names."""

from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.families.grids import GRID
from visualiser.arrangement.families.lines import COLUMN, PAIR, ROW, SINGLE

FAMILIES: dict[str, Family] = {family.name: family for family in (SINGLE, PAIR, ROW, COLUMN, GRID)}

__all__ = ["FAMILIES", "Family", "Layout"]

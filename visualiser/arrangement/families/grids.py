"""Equal pieces in rows and columns."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from visualiser.arrangement.families.family import Family, Layout, same_size
from visualiser.arrangement.setting import Setting


def _shapes(count: int) -> list[tuple[int, int]]:
    """Full grids (columns, rows) of at least two each, the squarest first."""
    shapes = [
        (columns, count // columns) for columns in range(2, count // 2 + 1) if count % columns == 0
    ]
    return sorted(shapes, key=lambda s: (abs(s[0] - s[1]), -s[0]))


def _grid(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    pitch = setting.sizes.max(axis=0) + setting.gap_mm
    for columns, rows in _shapes(setting.count):
        index = np.arange(setting.count)
        cells = np.column_stack([index % columns, -(index // columns)])
        yield Layout(cells * pitch, f"{columns} across, {rows} down")


GRID = Family(
    "grid",
    "four or more pieces of one size that fill their rows",
    lambda s: s.count >= 4 and same_size(s) and bool(_shapes(s.count)),
    _grid,
)

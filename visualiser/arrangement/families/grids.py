"""Equal pieces in rows and columns, in line or each set off by half a step from the next."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from visualiser.arrangement.families.family import Family, Layout, same_size
from visualiser.arrangement.neighbours import Floats
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


def _alternating(count: int) -> Iterator[tuple[int, ...]]:
    """Lines of which each has one piece more or less than the next, turn by turn."""
    for lines in range(2, count):
        for first in range(1, count):
            for second in (first + 1, first - 1):
                line = tuple(first if k % 2 == 0 else second for k in range(lines))
                if min(line) > 0 and sum(line) == count and max(line) > 1:
                    yield line


def _in_lines(lengths: tuple[int, ...]) -> Floats:
    """Give the steps along and across (N, 2) of pieces in centred lines of such lengths."""
    return np.array(
        [(k - (length - 1) / 2, line) for line, length in enumerate(lengths) for k in range(length)]
    )


def _set_off(count: int) -> Iterator[tuple[int, Floats]]:
    """Three equal lines or more, every other one set off by half a step: their length, the steps.

    A line of one piece set off gives a row that goes up and down.
    """
    for length in range(1, count // 3 + 1):
        if count % length == 0:
            index = np.arange(count)
            line = index // length
            yield length, np.column_stack([index % length + (line % 2) / 2, line])


def _staggered(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    pitch = setting.sizes.max(axis=0) + setting.gap_mm
    down = pitch * (1, -1)
    for lengths in _alternating(setting.count):
        steps = _in_lines(lengths)
        words = ", ".join(map(str, lengths))
        yield Layout(steps * down, f"rows of {words}")
        yield Layout(steps[:, ::-1] * down, f"columns of {words}")
    for length, steps in _set_off(setting.count):
        words = f"every other column of {length} lower" if length > 1 else "up and down"
        yield Layout(steps[:, ::-1] * down, words)
        if length > 1:
            yield Layout(steps * down, f"every other row of {length} set off")


STAGGERED = Family(
    "staggered",
    "three pieces or more of one size, in rows or columns set off by half a step",
    lambda s: s.count >= 3 and same_size(s),
    _staggered,
)

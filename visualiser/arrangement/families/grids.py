"""Equal pieces in rows and columns, in line or each set off by half a step from the next."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from visualiser.arrangement.families.family import Family, Layout, same_size
from visualiser.arrangement.families.lines import gaps_to_try
from visualiser.arrangement.measures import MeasuringContext
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.setting import Setting


def _shapes(count: int) -> list[tuple[int, int]]:
    """Full grids (columns, rows) of at least two each, the squarest first."""
    shapes = [
        (columns, count // columns) for columns in range(2, count // 2 + 1) if count % columns == 0
    ]
    return sorted(shapes, key=lambda s: (abs(s[0] - s[1]), -s[0]))


def _grid(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    size = setting.sizes.max(axis=0)
    for columns, rows in _shapes(setting.count):
        index = np.arange(setting.count)
        cells = np.column_stack([index % columns, -(index // columns)])
        for gap in gaps_to_try(setting, columns * float(size[0]), columns - 1):
            context = MeasuringContext(gap_mm=gap)
            words = f"{columns} across, {rows} down"
            yield Layout(cells * (size + gap), words, context=context)
    yield from _about_a_gap(setting)


def _odd_grids(count: int) -> list[tuple[int, int]]:
    """Grids (columns, rows) of odd numbers that lack their middle cell alone."""
    return [
        (columns, (count + 1) // columns)
        for columns in range(3, count // 2 + 1, 2)
        if (count + 1) % columns == 0 and (count + 1) // columns % 2 and (count + 1) // columns > 1
    ]


def _about_a_gap(setting: Setting) -> Iterator[Layout]:
    """Lay out a grid that leaves its middle cell free: for an object there, or as it is."""
    pitch = setting.sizes.max(axis=0) + setting.gap_mm
    for columns, rows in _odd_grids(setting.count):
        index = np.array([k for k in range(columns * rows) if k != columns * rows // 2])
        cells = np.column_stack([index % columns, -(index // columns)]) * pitch
        cells = cells - (cells.min(axis=0) + cells.max(axis=0)) / 2
        words = f"{columns} across, {rows} down about a free middle"
        yield Layout(cells, words)
        half, own = (pitch - setting.gap_mm) / 2, setting.guidelines.zone_clearance_mm
        for zone in setting.survey.zones:
            rect = zone.polygon.bounds
            if (np.array([rect.width_mm, rect.height_mm]) / 2 + own <= half + setting.gap_mm).all():
                yield Layout(cells + rect.centre_mm, f"{words}, where the {zone.kind} is", True)


GRID = Family(
    "grid",
    "four or more pieces of one size that fill their rows, or all but the middle one",
    lambda s: s.count >= 4 and same_size(s) and bool(_shapes(s.count) or _odd_grids(s.count)),
    _grid,
)


def _cells_taken(setting: Setting) -> tuple[int, int, float] | None:
    """Cells across and down that the largest piece takes of a grid of the others, and its gap."""
    rules, (large, cell) = setting.guidelines, setting.sizes[:2].tolist()
    for across in (1, 2, 3):
        for down in (1, 2, 3):
            gaps = [(large[axis] - n * cell[axis]) / (n - 1)
                    for axis, n in enumerate((across, down)) if n > 1]  # fmt: skip
            flush = all(abs(large[axis] - cell[axis]) <= 1.0
                        for axis, n in enumerate((across, down)) if n == 1)  # fmt: skip
            fits = all(rules.gap_min_mm <= gap <= rules.gap_max_mm for gap in gaps)
            if across * down > 1 and flush and fits and max(gaps) - min(gaps) <= 1.0:
                return across, down, gaps[0]
    return None


def _with_a_larger(setting: Setting) -> bool:
    return (
        setting.count >= 4
        and bool((np.ptp(setting.sizes[1:], axis=0) <= 1.0).all())
        and _cells_taken(setting) is not None
    )


def _larger_in_grid(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    """Lay out a grid in which the largest piece takes several cells: amid it or at a side."""
    taken = _cells_taken(setting)
    if taken is None:
        return
    across, down, gap = taken
    total, pitch = setting.count - 1 + across * down, setting.sizes[1] + gap
    for columns in range(across, total + 1):
        rows = total // columns
        if total % columns or rows < down or (columns, rows) == (across, down):
            continue
        for left in {0, (columns - across) // 2, columns - across}:
            for low in {0, (rows - down) // 2}:
                free = [
                    (x, y)
                    for y in range(rows)
                    for x in range(columns)
                    if not (left <= x < left + across and low <= y < low + down)
                ]
                first = (left + (across - 1) / 2, low + (down - 1) / 2)
                centres = np.array([first, *free]) * pitch
                words = f"{columns} across, {rows} down, the largest over {across * down} cells"
                yield Layout(centres, words, context=MeasuringContext(gap_mm=gap))


LARGER_IN_GRID = Family(
    "grid with a larger piece",
    "four pieces or more of one size but for one, which takes several cells of their grid",
    _with_a_larger,
    _larger_in_grid,
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


SET_OFF = MeasuringContext(kind="staggered")


def _staggered(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    pitch = setting.sizes.max(axis=0) + setting.gap_mm
    down = pitch * (1, -1)
    for lengths in _alternating(setting.count):
        steps = _in_lines(lengths)
        words = ", ".join(map(str, lengths))
        yield Layout(steps * down, f"rows of {words}", context=SET_OFF)
        yield Layout(steps[:, ::-1] * down, f"columns of {words}", context=SET_OFF)
    for length, steps in _set_off(setting.count):
        words = f"every other column of {length} lower" if length > 1 else "up and down"
        yield Layout(steps[:, ::-1] * down, words, context=SET_OFF)
        if length > 1:
            yield Layout(steps * down, f"every other row of {length} set off", context=SET_OFF)


STAGGERED = Family(
    "staggered",
    "three pieces or more of one size, in rows or columns set off by half a step",
    lambda s: s.count >= 3 and same_size(s),
    _staggered,
)

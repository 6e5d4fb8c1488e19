"""A wall followed from its sheet to where it stops being wall, column by column.

Lines alone do not show where a wall ends: boards of a floor, doors and frames have edges as
straight. But between the sheet and the wall's end there is nothing but wall, wherever nothing
stands or hangs before it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm
from visualiser.photo.peaks import peak_offset
from visualiser.statistics import robust_sigma
from visualiser.survey.face_on import FaceOn

Map = NDArray[np.float32]

CELL_MM = (48.0, 16.0)
"""Width and height over which light is averaged before it is compared."""
START_MM, LAST_MM = 160.0, 48.0
"""Length of wall that a column begins with; and over which a change must last to end it."""
FOLLOWS = 0.12
"""Share by which a column's idea of the wall follows it: light falls off slowly."""
LEAST_JUMP, JUMP_SIGMAS = 0.10, 4.0
"""What ends a wall, in the logarithm of light: at least this, and so often its own variation."""
LIKE_THE_WALL = 0.5
"""A column that begins farther than this from the wall at the sheet begins on something else."""
BOARD_MM = 240.0
"""What ends the wall and is no wider may be a board or cornice, beyond which nothing is wall."""
PILE_MM = 20.0
"""Columns that end within this of each other end at one edge."""
AROUND_PILE_MM = PILE_MM + CELL_MM[1] / 2
"""An edge lies so near the height at which columns end in cells."""
LEAST_WIDTH_MM, LEAST_SHARE = 240.0, 0.12
"""Of the columns seen, so many must end at an edge that may be the wall's."""
MOST_AMONG = 0.2
"""Of as many columns as end at an edge, so many among them may go on as wall beyond it."""


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Light (H, W, 3) averaged over cells, what is seen of it, and cells' middles in wall mm."""

    light: Map
    seen: NDArray[np.bool_]
    x_mm: NDArray[np.float64]
    y_mm: NDArray[np.float64]

    @classmethod
    def of(cls, view: FaceOn) -> Cells:
        """Average a view over cells."""
        width = max(round(view.rect.width_mm / CELL_MM[0]), 1)
        height = max(round(view.rect.height_mm / CELL_MM[1]), 1)
        light = cv2.resize(view.light, (width, height), interpolation=cv2.INTER_AREA)
        seen = cv2.resize(
            view.seen.astype(np.float32), (width, height), interpolation=cv2.INTER_AREA
        )
        return cls(
            np.asarray(light, np.float32),
            np.asarray(seen > 0.99),
            view.rect.left_mm + (np.arange(width) + 0.5) * view.rect.width_mm / width,
            view.rect.top_mm - (np.arange(height) + 0.5) * view.rect.height_mm / height,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """How low each column (W,) was seen to be wall, NaN for not at all, and whether it ended."""

    reached: NDArray[np.float64]
    ended: NDArray[np.bool_]

    @property
    def begun(self) -> int:
        """How many were wall to begin with."""
        return int((~np.isnan(self.reached)).sum())


def wall_at(cells: Cells, reference_mm: PointsMm) -> tuple[Map, Map] | None:
    """Light of the wall around the reference, and how much its cells vary: (3,) each."""
    low, high = reference_mm.min(axis=0), reference_mm.max(axis=0)
    across = np.maximum(low[0] - cells.x_mm, cells.x_mm - high[0])[None, :]
    down = np.maximum(low[1] - cells.y_mm, cells.y_mm - high[1])[:, None]
    away = np.maximum(*np.broadcast_arrays(across, down))
    ring = (away > 60) & (away < 500) & cells.seen
    if ring.sum() < 40:
        return None
    middle = np.median(cells.light[ring], axis=0)
    lag = round(START_MM / CELL_MM[1])
    both = ring[lag:] & ring[:-lag]
    if both.sum() < 20:
        return None
    steps = (cells.light[lag:] - cells.light[:-lag])[both]
    varies = robust_sigma(steps - np.median(steps, axis=0), axis=0)
    return np.asarray(middle, np.float32), np.asarray(varies, np.float32)


def follow(cells: Cells, wall: Map, varies: Map, start_mm: float) -> Columns:
    """Follow each column down from a height for as long as it is wall."""
    jump = np.maximum(LEAST_JUMP, JUMP_SIGMAS * varies)
    last = max(round(LAST_MM / CELL_MM[1]), 1)
    first = int(np.argmin(np.abs(cells.y_mm - start_mm)))
    begins = max(round(START_MM / CELL_MM[1]), 1)
    reached = np.full(len(cells.x_mm), np.nan)
    ended = np.zeros(len(cells.x_mm), bool)
    if first + begins + last >= len(cells.y_mm):
        return Columns(reached, ended)
    head = np.median(cells.light[first : first + begins], axis=0)
    alive = cells.seen[first : first + begins].all(axis=0)
    alive &= (np.abs(head - wall) < np.maximum(LIKE_THE_WALL, jump)).all(axis=1)
    resumes = np.zeros(len(reached), int)
    reached[alive] = cells.y_mm[first]
    for row in range(first + begins, len(cells.y_mm) - last):
        below = cells.light[row : row + last]
        seen = cells.seen[row : row + last].all(axis=0)
        other = (np.abs(below - head) > jump).any(axis=2).all(axis=0)
        ended |= alive & seen & other
        alive &= seen & ~other
        reached[alive] = cells.y_mm[row] - CELL_MM[1] / 2
        head = np.where(
            alive[:, None], head + np.float32(FOLLOWS) * (cells.light[row] - head), head
        )
        # Under a picture on the wall the wall goes on; a board at its foot is lower than that.
        like = seen & (np.abs(cells.light[row] - head) < jump).all(axis=1)
        past = reached - cells.y_mm[row] > BOARD_MM + START_MM
        resumes = np.where(like & ~alive & ended, resumes + 1, 0)
        again = (resumes >= begins) & past
        alive |= again
        ended &= ~again
    return Columns(reached, ended)


def followed(view: FaceOn, reference_mm: PointsMm) -> tuple[Cells, Columns] | None:
    """Average a view over cells and follow its columns down from the reference's middle.

    None where too little wall is seen around the reference to know it by.
    """
    cells = Cells.of(view)
    wall = wall_at(cells, reference_mm)
    if wall is None:
        return None
    return cells, follow(cells, *wall, float(reference_mm[:, 1].mean()))


def piles(columns: Columns) -> list[tuple[float, NDArray[np.bool_]]]:
    """Heights at which many columns end, and which columns these are."""
    ends, ended = columns.reached, columns.ended
    least = max(LEAST_WIDTH_MM / CELL_MM[0], LEAST_SHARE * columns.begun)
    levels = np.unique(ends[ended])
    counts = np.array([(np.abs(ends[ended] - level) <= PILE_MM).sum() for level in levels])
    found: list[tuple[float, NDArray[np.bool_]]] = []
    for index in np.argsort(-counts):
        level = float(levels[index])
        if counts[index] < least or any(abs(level - other) < 2 * PILE_MM for other, _ in found):
            continue
        found.append((level, ended & (np.abs(np.nan_to_num(ends) - level) <= PILE_MM)))
    return found


def goes_on(reached: NDArray[np.float64], columns: NDArray[np.bool_], foot_mm: float) -> bool:
    """Whether there is wall below a foot: then it was furniture's.

    Side walls go on too, but from the corner on they end a little lower with every column.
    """
    beyond = reached < foot_mm - 40
    among = beyond.copy()
    among[: int(np.argmax(columns))] = among[len(columns) - int(np.argmax(columns[::-1])) :] = False
    if among.sum() > MOST_AMONG * columns.sum():
        return True
    drops = reached < foot_mm - BOARD_MM
    wide = drops & (np.roll(drops, 1) | np.roll(drops, -1))
    beside = np.convolve(columns, np.ones(7), "same") > 0
    return bool((wide & beside).any())


def edge_near(heights: NDArray[np.float64], rows: Map, level_mm: float, within_mm: float) -> float:
    """Height of the sharpest change from row to row near a height, between rows."""
    steps = np.abs(np.diff(rows, axis=0)).max(axis=1)
    between = (heights[:-1] + heights[1:]) / 2
    near = np.abs(between - level_mm) <= within_mm
    if not near.any():
        return level_mm
    at = int(np.argmax(np.where(near, steps, -1.0)))
    step = between[1] - between[0] if len(between) > 1 else 0.0
    return float(between[at] + peak_offset(steps, at) * step)


def profile_over(view: FaceOn, x_mm: NDArray[np.float64]) -> tuple[NDArray[np.float64], Map] | None:
    """Heights of the view's rows, and the middle light (H, 3) of each over some columns."""
    half = CELL_MM[0] / 2 / view.mm_per_px
    middle = (x_mm - view.rect.left_mm) / view.mm_per_px - 0.5
    chosen = np.zeros(view.seen.shape[1], bool)
    for at in middle:
        chosen[max(round(at - half), 0) : round(at + half) + 1] = True
    light = np.where(view.seen[:, chosen, None], view.light[:, chosen], np.nan)
    enough = view.seen[:, chosen].mean(axis=1) > 0.3
    if not enough.any():
        return None
    rows = np.nanmedian(light[enough], axis=1)
    heights = view.rect.top_mm - (np.flatnonzero(enough).astype(float) + 0.5) * view.mm_per_px
    return np.asarray(heights, float), np.asarray(rows, np.float32)

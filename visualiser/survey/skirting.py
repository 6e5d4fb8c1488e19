"""Where the wall ends below: the skirting board's top edge and its foot, read off the photo.

Lines alone do not tell: boards of a floor and the sides of a rug run as level as a skirting does,
and in pairs. But between the sheet and the skirting's top there is nothing but wall, wherever no
furniture stands; so each column of the wall is followed down to where it stops being wall.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm
from visualiser.survey.face_on import FaceOn

Map = NDArray[np.float32]

HEIGHTS_MM = (45.0, 240.0)
"""Skirting boards are this high (common practice, no source)."""
CELL_MM = (48.0, 16.0)
"""Width and height over which light is averaged before it is compared."""
START_MM, LAST_MM = 160.0, 48.0
"""Height of wall that a column begins with; and over which a change must last to end it."""
FOLLOWS = 0.12
"""Share by which a column's idea of the wall follows it down: light falls off slowly."""
LEAST_JUMP, JUMP_SIGMAS = 0.10, 4.0
"""What ends a wall, in the logarithm of light: at least this, and so often its own variation."""
LIKE_THE_WALL = 0.5
"""A column that begins farther than this from the wall at the sheet begins on something else."""
PILE_MM = 20.0
"""Columns that end within this of each other end at one edge."""
LEAST_WIDTH_MM, LEAST_SHARE = 240.0, 0.12
"""Of the columns seen, so many must end at the skirting."""
LEAST_SHARE_BARE = 0.25
"""And so many where no board is told from the floor: a sofa's top looks like that too."""
MOST_AMONG = 0.2
"""Of as many columns as end at a foot, so many among them may go on as wall below it."""
SAME_FOOT_MM, LEAST_OF_MOST = 40.0, 0.4
"""Feet this near are one; the lowest needs so large a share of the columns that end elsewhere."""
LEAST_FACE = 0.05
"""Least spread of light on a board's face or a floor, in the logarithm of light."""
FLOOR_MM = 160.0
"""Height, on the wall's plane, over which what follows is taken for the floor."""
DOUBTFUL, CLEAR = 6.0, 7.0
"""Spreads between a board and its floor: fewer are boards of the floor, more are a skirting."""
EDGE_WITHIN_MM = 14.0
"""How near what was told by areas its edge is looked for."""


@dataclass(frozen=True, slots=True)
class WallFoot:
    """Where the wall, or the board at its foot, meets the floor as seen, wall mm.

    Parameters
    ----------
    foot_mm
        Its height on the wall's plane.
    sigma_mm
        Standard uncertainty of reading it.
    left_mm, right_mm
        Ends of the stretch it was read along.
    has_board
        Whether a skirting board was told from the wall above it.
    """

    foot_mm: float
    sigma_mm: float
    left_mm: float
    right_mm: float
    has_board: bool


def find_foot(view: FaceOn, reference_mm: PointsMm) -> WallFoot | None:
    """Find where a wall seen face on meets the floor, or None where it is not clear.

    Parameters
    ----------
    view
        The wall from above the reference's middle down to well below where a floor may be.
    reference_mm
        (4, 2) corners of the reference, in the view's wall mm.
    """
    cells = _Cells.of(view)
    wall = _wall_at(cells, reference_mm)
    if wall is None:
        return None
    followed = _followed(cells, *wall, float(reference_mm[:, 1].mean()))
    found: list[tuple[int, WallFoot]] = []
    for end, columns in _piles(followed):
        foot = _with_foot(view, cells, followed, end, columns)
        if foot is not None:
            found.append((int(columns.sum()), foot))
    if not found:
        return None
    lowest = min(foot.foot_mm for _, foot in found)
    # A wall that reaches the floor somewhere ends higher elsewhere only behind furniture.
    alike = [(count, foot) for count, foot in found if foot.foot_mm < lowest + SAME_FOOT_MM]
    most = max(count for count, _ in found)
    if max(count for count, _ in alike) < LEAST_OF_MOST * most:
        return None
    return max(alike, key=lambda one: (one[1].has_board, one[0]))[1]


@dataclass(frozen=True, slots=True, eq=False)
class _Cells:
    """Light (H, W, 3) averaged over cells, what is seen of it, and cells' middles in wall mm."""

    light: Map
    seen: NDArray[np.bool_]
    x_mm: NDArray[np.float64]
    y_mm: NDArray[np.float64]

    @classmethod
    def of(cls, view: FaceOn) -> _Cells:
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
class _Columns:
    """How low each column (W,) was seen to be wall, NaN for not at all, and whether it ended."""

    reached: NDArray[np.float64]
    ended: NDArray[np.bool_]


def _wall_at(cells: _Cells, reference_mm: PointsMm) -> tuple[Map, Map] | None:
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
    varies = 1.4826 * np.median(np.abs(steps - np.median(steps, axis=0)), axis=0)
    return np.asarray(middle, np.float32), np.asarray(varies, np.float32)


def _followed(cells: _Cells, wall: Map, varies: Map, start_mm: float) -> _Columns:
    """Follow each column down from a height for as long as it is wall."""
    jump = np.maximum(LEAST_JUMP, JUMP_SIGMAS * varies)
    last = max(round(LAST_MM / CELL_MM[1]), 1)
    first = int(np.argmin(np.abs(cells.y_mm - start_mm)))
    begins = max(round(START_MM / CELL_MM[1]), 1)
    reached = np.full(len(cells.x_mm), np.nan)
    ended = np.zeros(len(cells.x_mm), bool)
    if first + begins + last >= len(cells.y_mm):
        return _Columns(reached, ended)
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
        past = reached - cells.y_mm[row] > HEIGHTS_MM[1] + START_MM
        resumes = np.where(like & ~alive & ended, resumes + 1, 0)
        again = (resumes >= begins) & past
        alive |= again
        ended &= ~again
    return _Columns(reached, ended)


def _piles(followed: _Columns) -> list[tuple[float, NDArray[np.bool_]]]:
    """Heights at which many columns end, and which columns these are."""
    ends, ended = followed.reached, followed.ended
    begun = float((~np.isnan(ends)).sum())
    least = max(LEAST_WIDTH_MM / CELL_MM[0], LEAST_SHARE * begun)
    levels = np.unique(ends[ended])
    counts = np.array([(np.abs(ends[ended] - level) <= PILE_MM).sum() for level in levels])
    piles: list[tuple[float, NDArray[np.bool_]]] = []
    for index in np.argsort(-counts):
        level = float(levels[index])
        if counts[index] < least or any(abs(level - top) < 2 * PILE_MM for top, _ in piles):
            continue
        piles.append((level, ended & (np.abs(np.nan_to_num(ends) - level) <= PILE_MM)))
    return piles


def _with_foot(
    view: FaceOn,
    cells: _Cells,
    followed: _Columns,
    end_mm: float,
    columns: NDArray[np.bool_],
) -> WallFoot | None:
    """Tell whether a wall's end is a skirting's upper edge, with its foot below, or the foot.

    A board's face is plain, and gives way to a floor that goes on. Where nothing below the edge
    is unlike all that follows, over more than a board's height, the floor begins at the edge.
    """
    x = cells.x_mm[columns]
    profile = _profile(view, x)
    if profile is None:
        return None
    heights, rows = profile
    end = _edge_near(heights, rows, end_mm, PILE_MM + 8.0)
    below = heights[(heights < end - HEIGHTS_MM[0]) & (heights > end - HEIGHTS_MM[1])]
    told = [_board_over_floor(heights, rows, end, float(level)) for level in below]
    strength = max(told, default=0.0)
    if strength >= CLEAR:
        foot = _edge_near(heights, rows, float(below[int(np.argmax(told))]), EDGE_WITHIN_MM)
    elif (
        strength <= DOUBTFUL
        and heights.min() < end - HEIGHTS_MM[1]
        and columns.sum() >= LEAST_SHARE_BARE * (~np.isnan(followed.reached)).sum()
    ):
        foot = end
    else:
        return None
    if _goes_on(followed.reached, columns, foot):
        return None
    sigma = view.mm_per_px / 2
    return WallFoot(foot, sigma, float(x.min()), float(x.max()), strength >= CLEAR)


def _goes_on(reached: NDArray[np.float64], columns: NDArray[np.bool_], foot_mm: float) -> bool:
    """Whether there is wall below a foot: then it was furniture's.

    Side walls go on too, but from the corner on they end a little lower with every column.
    """
    beyond = reached < foot_mm - 40
    among = beyond.copy()
    among[: int(np.argmax(columns))] = among[len(columns) - int(np.argmax(columns[::-1])) :] = False
    if among.sum() > MOST_AMONG * columns.sum():
        return True
    drops = reached < foot_mm - HEIGHTS_MM[1]
    wide = drops & (np.roll(drops, 1) | np.roll(drops, -1))
    beside = np.convolve(columns, np.ones(7), "same") > 0
    return bool((wide & beside).any())


def _edge_near(heights: NDArray[np.float64], rows: Map, level_mm: float, within_mm: float) -> float:
    """Height of the sharpest change from row to row near a height, between rows."""
    steps = np.abs(np.diff(rows, axis=0)).max(axis=1)
    between = (heights[:-1] + heights[1:]) / 2
    near = np.abs(between - level_mm) <= within_mm
    if not near.any():
        return level_mm
    at = int(np.argmax(np.where(near, steps, -1.0)))
    if not 0 < at < len(steps) - 1:
        return float(between[at])
    before, peak, after = (float(v) for v in steps[at - 1 : at + 2])
    bend = before - 2 * peak + after
    shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
    return float(between[at] + np.clip(shift, -0.5, 0.5) * (between[1] - between[0]))


def _board_over_floor(
    heights: NDArray[np.float64], rows: Map, end_mm: float, foot_mm: float
) -> float:
    """How surely a board ends at a height and a floor goes on: their difference in its spread."""
    margin = 10.0
    face = rows[(heights < end_mm - margin) & (heights > foot_mm + margin)]
    floor = rows[(heights < foot_mm - margin) & (heights > foot_mm - FLOOR_MM)]
    if len(face) < 3 or len(floor) < 8:
        return 0.0
    apart = np.median(face, axis=0) - np.median(floor, axis=0)
    spread = np.hypot(np.std(face, axis=0), np.std(floor, axis=0))
    return float((np.abs(apart) / np.maximum(spread, LEAST_FACE)).max())


def _profile(view: FaceOn, x_mm: NDArray[np.float64]) -> tuple[NDArray[np.float64], Map] | None:
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

"""Where the wall ends below: the skirting board's top edge and its foot, read off the photo.

Lines do not suffice: boards of a floor and the sides of a rug run as level as a skirting does,
and in pairs. But between the sheet and the skirting's top there is nothing but wall, wherever no
furniture stands; so each column of the wall is followed down to where it stops being wall.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm
from visualiser.survey.face_on import FaceOn
from visualiser.survey.following import (
    AROUND_PILE_MM,
    BOARD_MM,
    CELL_MM,
    Cells,
    Columns,
    Map,
    edge_near,
    followed,
    goes_on,
    piles,
    profile_over,
)

HEIGHTS_MM = (45.0, BOARD_MM)
"""Skirting boards are this high (common practice, no source)."""
LEAST_SHARE_BARE = 0.25
"""Of the columns seen, so many must end at a foot where no board differs from the floor: a sofa's
top looks like that too."""
SAME_FOOT_MM, LEAST_OF_MOST = 40.0, 0.4
"""Feet this near are one; the lowest needs so large a share of the columns that end elsewhere."""
STRAIGHT_CELLS = 0.6
"""Scatter, in cells, of the columns' ends about a line, of a straight edge at most: they fall into
two rows of cells, by halves at worst. A leaf's or a cushion's rim takes three and more (0.8)."""
LEAST_FACE = 0.05
"""Least spread of light on a board's face or a floor, in the logarithm of light."""
FLOOR_MM = 160.0
"""Height, on the wall's plane, over which what follows is taken for the floor."""
DOUBTFUL, CLEAR = 6.0, 7.0
"""Spreads between a board and its floor: fewer are boards of the floor, more are a skirting."""
EDGE_WITHIN_MM = 14.0
"""How near what was found by areas its edge is looked for."""


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
        Whether a skirting board was distinguished from the wall above it.
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
    seen = followed(view, reference_mm)
    if seen is None:
        return None
    cells, columns = seen
    found: list[tuple[int, WallFoot]] = []
    for end, chosen in piles(columns):
        foot = _with_foot(view, cells, columns, end, chosen)
        if foot is not None:
            found.append((int(chosen.sum()), foot))
    if not found:
        return None
    lowest = min(foot.foot_mm for _, foot in found)
    # A wall that reaches the floor somewhere ends higher elsewhere only behind furniture.
    alike = [(count, foot) for count, foot in found if foot.foot_mm < lowest + SAME_FOOT_MM]
    most = max(count for count, _ in found)
    if max(count for count, _ in alike) < LEAST_OF_MOST * most:
        return None
    return max(alike, key=lambda one: (one[1].has_board, one[0]))[1]


def _with_foot(
    view: FaceOn,
    cells: Cells,
    columns: Columns,
    end_mm: float,
    chosen: NDArray[np.bool_],
) -> WallFoot | None:
    """Tell whether a wall's end is a skirting's upper edge, with its foot below, or the foot.

    A board's face is plain, and gives way to a floor that goes on. Where nothing below the edge
    is unlike all that follows, over more than a board's height, the floor begins at the edge.
    """
    x = cells.x_mm[chosen]
    if _scatter(x, columns.reached[chosen]) > STRAIGHT_CELLS * CELL_MM[1]:
        return None
    profile = profile_over(view, x)
    if profile is None:
        return None
    heights, rows = profile
    end = edge_near(heights, rows, end_mm, AROUND_PILE_MM)
    below = heights[(heights < end - HEIGHTS_MM[0]) & (heights > end - HEIGHTS_MM[1])]
    told = [_board_over_floor(heights, rows, end, float(level)) for level in below]
    strength = max(told, default=0.0)
    if strength >= CLEAR:
        foot = edge_near(heights, rows, float(below[int(np.argmax(told))]), EDGE_WITHIN_MM)
    elif (
        strength <= DOUBTFUL
        and heights.min() < end - HEIGHTS_MM[1]
        and chosen.sum() >= LEAST_SHARE_BARE * columns.begun
    ):
        foot = end
    else:
        return None
    if goes_on(columns.reached, chosen, foot):
        return None
    sigma = view.mm_per_px / 2
    return WallFoot(foot, sigma, float(x.min()), float(x.max()), strength >= CLEAR)


def _scatter(x_mm: NDArray[np.float64], ends_mm: NDArray[np.float64]) -> float:
    """Take the standard deviation of heights about a line through them, mm."""
    middle = x_mm - x_mm.mean()
    slope = float(middle @ ends_mm) / max(float(middle @ middle), 1e-9)
    return float(np.std(ends_mm - slope * middle))


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

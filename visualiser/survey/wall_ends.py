"""Where a wall ends above and to the sides: its ceiling or cornice, and the room's corners."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm, Rect
from visualiser.survey.face_on import FaceOn
from visualiser.survey.following import (
    CELL_MM,
    PILE_MM,
    Cells,
    Columns,
    edge_near,
    follow,
    goes_on,
    piles,
    profile_over,
    wall_at,
)

Way = Literal["up", "down", "left", "right"]
_SIDES: tuple[Way, Way] = ("left", "right")
Level = tuple[NDArray[np.float64], NDArray[np.bool_]]
"""X of columns, and which of them end at one height."""

LEAST_SHARE = 0.3
"""Of the lines across that were followed, so many must end at the wall's end."""
ABOVE_DOORS_MM, ROWS_ABOVE = 750.0, 3
"""So far above the reference's middle, which is at eye height, is over any door; and of the rows
there so many must end at a corner too."""
NEARLY_MM, TIGHT = 200.0, 0.7
"""Of what ends within so much of an edge, the share that must end at it."""
BESIDE_MM, ALIKE_MM = 600.0, 60.0
"""So far from a corner the wall must still end level above or below, give or take so much: on the
side wall beyond, its ends run off at a slope."""


@dataclass(frozen=True, slots=True)
class WallEnds:
    """Ends of a wall in its own mm; None where one is not clear."""

    top_mm: float | None = None
    left_mm: float | None = None
    right_mm: float | None = None


def wall_ends(view: FaceOn, reference_mm: PointsMm) -> WallEnds:
    """Find a wall's ceiling or cornice and its corners.

    Parameters
    ----------
    view
        The wall seen face on, down to well below where its floor may be.
    reference_mm
        (4, 2) corners of the reference on it, in the view's wall mm.
    """
    top, above = _upper_end(view, reference_mm)
    left, right = (_side_end(view, reference_mm, way, above) for way in _SIDES)
    return WallEnds(top, left, right)


def _upper_end(view: FaceOn, reference_mm: PointsMm) -> tuple[float | None, list[Level]]:
    """Height of the ceiling; and where columns end above and below, in wall mm."""
    top: float | None = None
    levels: list[Level] = []
    for way in ("up", "down"):
        turned, corners = _turned(view, reference_mm, way)
        found = _followed(turned, corners)
        if found is None:
            continue
        cells, columns = found
        sign = -1.0 if way == "up" else 1.0
        for end_mm, chosen in piles(columns):
            levels.append((cells.x_mm, chosen))
            least = LEAST_SHARE * float((~np.isnan(columns.reached)).sum())
            if way == "down" or top is not None or chosen.sum() < least:
                continue
            profile = profile_over(turned, cells.x_mm[chosen])
            if profile is not None and not goes_on(columns.reached, chosen, end_mm):
                top = sign * edge_near(*profile, end_mm, PILE_MM + 8.0)
    return top, levels


def _side_end(view: FaceOn, reference_mm: PointsMm, way: Way, levels: list[Level]) -> float | None:
    """X of a corner of the room, or None."""
    turned, corners = _turned(view, reference_mm, way)
    found = _followed(turned, corners)
    if found is None:
        return None
    cells, rows = found
    least = LEAST_SHARE * float((~np.isnan(rows.reached)).sum())
    over_doors = float(reference_mm[:, 1].mean()) + ABOVE_DOORS_MM
    for end_mm, chosen in piles(rows):
        if chosen.sum() < least or goes_on(rows.reached, chosen, end_mm):
            continue
        # In a view turned to a side, x is the height below zero.
        above = int((-cells.x_mm[chosen] > over_doors).sum())
        if above < ROWS_ABOVE or not _tight(rows, end_mm, chosen):
            continue
        profile = profile_over(turned, cells.x_mm[chosen])
        if profile is None:
            continue
        end = edge_near(*profile, end_mm, PILE_MM + 8.0)
        x = end if way == "left" else -end
        inward = 1.0 if way == "left" else -1.0
        for at, ends_level in levels:
            near = (inward * (at - x) > 0) & (inward * (at - x) < BESIDE_MM)
            past = inward * (at - x) < -ALIKE_MM
            width = (ends_level & near).sum() * CELL_MM[0]
            if width >= BESIDE_MM / 4 and (ends_level & past).sum() * CELL_MM[0] < width / 4:
                return x
    return None


def _tight(rows: Columns, end_mm: float, chosen: NDArray[np.bool_]) -> bool:
    """Whether what ends near there ends at one edge, not here and there in a shadow."""
    near = rows.ended & (np.abs(np.nan_to_num(rows.reached) - end_mm) < NEARLY_MM)
    return bool(chosen.sum() >= TIGHT * near.sum())


def _followed(view: FaceOn, reference_mm: PointsMm) -> tuple[Cells, Columns] | None:
    cells = Cells.of(view)
    wall = wall_at(cells, reference_mm)
    if wall is None:
        return None
    return cells, follow(cells, *wall, float(reference_mm[:, 1].mean()))


def _turned(view: FaceOn, points_mm: PointsMm, way: Way) -> tuple[FaceOn, PointsMm]:
    """Turn a view, and points on it, so that the way to go is down its rows."""
    rect, x, y = view.rect, points_mm[:, 0], points_mm[:, 1]
    if way == "down":
        return view, points_mm
    if way == "up":
        turned = Rect(rect.left_mm, -rect.top_mm, rect.width_mm, rect.height_mm)
        return _with(view, turned, (slice(None, None, -1), slice(None)), False), np.c_[x, -y]
    if way == "right":
        turned = Rect(-rect.top_mm, -rect.right_mm, rect.height_mm, rect.width_mm)
        return _with(view, turned, (slice(None), slice(None)), True), np.c_[-y, -x]
    turned = Rect(-rect.top_mm, rect.left_mm, rect.height_mm, rect.width_mm)
    return _with(view, turned, (slice(None, None, -1), slice(None)), True), np.c_[-y, x]


def _with(view: FaceOn, rect: Rect, order: tuple[slice, slice], across: bool) -> FaceOn:
    light, seen = view.light, view.seen
    if across:
        light, seen = light.transpose(1, 0, 2), seen.T
    light, seen = np.ascontiguousarray(light[order]), np.ascontiguousarray(seen[order])
    return replace(view, light=light, seen=seen, rect=rect)

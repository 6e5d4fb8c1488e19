"""Where a wall ends above and to the sides: its ceiling or cornice, and the room's corners."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm, Rect
from visualiser.survey.face_on import FaceOn
from visualiser.survey.following import (
    AROUND_PILE_MM,
    CELL_MM,
    Cells,
    Columns,
    edge_near,
    followed,
    goes_on,
    piles,
    profile_over,
)

Way = Literal["up", "down", "left", "right"]
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
    up, down, left, right = (_looked(view, reference_mm, way) for way in get_args(Way))
    levels = [
        (one.cells.x_mm, chosen)
        for one in (up, down)
        if one is not None
        for _, chosen in piles(one.columns)
    ]
    tops = () if up is None else (-edge for _, _, edge in _clear_ends(up))
    over_doors_mm = float(reference_mm[:, 1].mean()) + ABOVE_DOORS_MM
    return WallEnds(
        next(iter(tops), None),
        _corner(left, 1.0, over_doors_mm, levels),
        _corner(right, -1.0, over_doors_mm, levels),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Looked:
    """A view turned so that one looks down its rows, and its columns followed."""

    view: FaceOn
    cells: Cells
    columns: Columns


def _looked(view: FaceOn, reference_mm: PointsMm, way: Way) -> _Looked | None:
    turned, corners = _turned(view, reference_mm, way)
    found = followed(turned, corners)
    return None if found is None else _Looked(turned, *found)


def _clear_ends(looked: _Looked) -> Iterator[tuple[float, NDArray[np.bool_], float]]:
    """Heights at which much of what was followed ends and nothing goes on, the most first.

    With each, which columns end there, and the height of the edge itself.
    """
    columns = looked.columns
    for end_mm, chosen in piles(columns):
        if chosen.sum() < LEAST_SHARE * columns.begun or goes_on(columns.reached, chosen, end_mm):
            continue
        profile = profile_over(looked.view, looked.cells.x_mm[chosen])
        if profile is not None:
            yield end_mm, chosen, edge_near(*profile, end_mm, AROUND_PILE_MM)


def _corner(
    looked: _Looked | None, inward: float, over_doors_mm: float, levels: Sequence[Level]
) -> float | None:
    """X of a corner of the room, or None; ``inward`` is the sign of x on its wall's side."""
    if looked is None:
        return None
    for end_mm, chosen, edge in _clear_ends(looked):
        # In a view turned to a side, x is the height below zero.
        above = int((-looked.cells.x_mm[chosen] > over_doors_mm).sum())
        if above < ROWS_ABOVE or not _tight(looked.columns, end_mm, chosen):
            continue
        x = inward * edge
        for at, ends_level in levels:
            near = (inward * (at - x) > 0) & (inward * (at - x) < BESIDE_MM)
            past = inward * (at - x) < -ALIKE_MM
            width = (ends_level & near).sum() * CELL_MM[0]
            if width >= BESIDE_MM / 4 and (ends_level & past).sum() * CELL_MM[0] < width / 4:
                return float(x)
    return None


def _tight(rows: Columns, end_mm: float, chosen: NDArray[np.bool_]) -> bool:
    """Whether what ends near there ends at one edge, not here and there in a shadow."""
    near = rows.ended & (np.abs(np.nan_to_num(rows.reached) - end_mm) < NEARLY_MM)
    return bool(chosen.sum() >= TIGHT * near.sum())


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

"""What the person does in the wall view, turned into a change of the job. Pure: no screen, no disk.

The browser's word is checked like any input: kinds, ids and numbers that a wall view could not
have sent are refused as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from visualiser.arrangement.arrangement import Placement
from visualiser.errors import ProjectError
from visualiser.project.document import Document
from visualiser.project.wall_entries import MarksEntry

Points = tuple[tuple[float, float], ...]

FARTHEST_MM = 1e5


def apply_edit(document: Document, edit: dict[str, Any], option_id: str | None = None) -> Document:
    """Carry out one edit.

    Parameters
    ----------
    document
        The job as it is.
    edit
        What the wall view sent: ``{"kind": "placements", "placements": {id: [x, y]}}`` in wall
        mm, or ``{"kind": "shape", "id": …, "points": [[x, y], …], "moved": [0, …]}`` in photo px,
        where ``moved`` tells which of the points are elsewhere than they were shown.
    option_id
        The option that was on view.

    Raises
    ------
    ProjectError
        If the edit does not fit the job.
    """
    kind = edit.get("kind")
    if kind == "placements":
        return _placed(document, edit.get("placements"), option_id)
    if kind == "shape":
        points, moved = checked_points(edit.get("points")), edit.get("moved")
        if not isinstance(moved, list):
            moved = list(range(len(points)))
        return shape_moved(document, str(edit.get("id")), points, moved)
    raise _misfit()


def _placed(document: Document, places: Any, option_id: str | None) -> Document:
    option = document.option(option_id)
    known = {placement.piece_id for placement in option.placements}
    if not isinstance(places, dict) or not places.keys() <= known:
        raise _misfit()
    moved = tuple(
        Placement(p.piece_id, *_point(places[p.piece_id], FARTHEST_MM))
        if p.piece_id in places
        else p
        for p in option.placements
    )
    if moved == option.placements:
        return document
    changed = option.model_copy(update={"placements": moved, "family": "by hand"})
    return document.replacing(changed)


def shape_moved(
    document: Document, shape_id: str, points: Points, moved: Sequence[int]
) -> Document:
    """Move one of the marks: ``reference``, ``floor``, ``side``, ``outline`` or ``kind-index``.

    The reference's corners are shown where they were measured; those of them that were not
    ``moved`` stay where the person gave them.

    Raises
    ------
    ProjectError
        If there is no such mark, or it has another number of points.
    """
    marks = document.marks
    movers: dict[str, Callable[[MarksEntry, int, Points], MarksEntry]] = {
        "reference": lambda m, _, p: _reference(m, p, moved),
        "floor": lambda m, _, p: m.model_copy(update={"floor_px": p}),
        "side": lambda m, _, p: m.model_copy(update={"side_px": p[0]}),
        "outline": lambda m, _, p: m.model_copy(update={"outline_px": p}),
        "line": _ends("lines"),
        "tape": _ends("taped"),
        "zone": _outline("zones"),
        "furniture": _outline("furniture"),
        "front": _drawn("in_front"),
        "gone": _drawn("painted_out"),
    }
    name, _, number = shape_id.partition("-")
    try:
        marks = movers[name](marks, int(number or 0), points)
    except (KeyError, IndexError, ValueError, TypeError) as error:
        raise _misfit() from error
    return document.changed(marks=marks)


def _reference(marks: MarksEntry, points: Points, moved: Sequence[int]) -> MarksEntry:
    if len(points) != 4:
        raise ValueError("a reference has four corners")
    given = marks.reference.corners_px or points
    corners = tuple(points[i] if i in moved else given[i] for i in range(4))
    reference = marks.reference.model_copy(update={"corners_px": corners, "as_set": False})
    return marks.model_copy(update={"reference": reference})


def _ends(field: str) -> Callable[[MarksEntry, int, Points], MarksEntry]:
    def move(marks: MarksEntry, index: int, points: Points) -> MarksEntry:
        items = list(getattr(marks, field))
        start, end = points
        items[index] = replace(items[index], start_px=start, end_px=end)
        return marks.model_copy(update={field: tuple(items)})

    return move


def _outline(field: str) -> Callable[[MarksEntry, int, Points], MarksEntry]:
    def move(marks: MarksEntry, index: int, points: Points) -> MarksEntry:
        items = list(getattr(marks, field))
        name = "points_px" if items[index].points_px is not None else "points_mm"
        items[index] = items[index].model_copy(update={name: points})
        return marks.model_copy(update={field: tuple(items)})

    return move


def _drawn(field: str) -> Callable[[MarksEntry, int, Points], MarksEntry]:
    def move(marks: MarksEntry, index: int, points: Points) -> MarksEntry:
        items = list(getattr(marks, field))
        items[index] = items[index].model_copy(update={"outline_px": points})
        return marks.model_copy(update={field: tuple(items)})

    return move


def _point(value: Any, farthest: float) -> tuple[float, float]:
    if (
        not isinstance(value, list | tuple)
        or len(value) != 2
        or not all(isinstance(v, int | float) and not isinstance(v, bool) for v in value)
        or not all(math.isfinite(v) and abs(v) <= farthest for v in value)
    ):
        raise _misfit()
    return float(value[0]), float(value[1])


def checked_points(value: Any) -> Points:
    """Points that the browser sent, in photo px.

    Raises
    ------
    ProjectError
        If they are no points.
    """
    if not isinstance(value, list | tuple) or not 1 <= len(value) <= 100:
        raise _misfit()
    return tuple(_point(point, 1e6) for point in value)


def _misfit() -> ProjectError:
    return ProjectError(
        "The last move did not fit the job and was left out.",
        hint="Reload the page if the wall view and the lists no longer agree.",
    )

"""What hands do on the wall, as commands; each is carried out on the job as it is by then. Pure.

The browser's word is checked like any input: kinds, ids and numbers that a wall view could not
have sent are refused, and so is what no longer fits the job.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from visualiser.app.jobs import UNITS
from visualiser.arrangement.arrangement import Placement
from visualiser.errors import ProjectError
from visualiser.project.document import Document, Units
from visualiser.project.wall_entries import (
    FurnitureEntry,
    MarksEntry,
    WallTapEntry,
    ZoneEntry,
)

Points = tuple[tuple[float, float], ...]
WALL = "wall"
"""Name under which a part of the wall is taken."""

FARTHEST_MM = 1e5
_FARTHEST_PX = 1e6
_SAME_PX = 0.01
"""Marks drawn less apart are one."""
_MOST_AT_ONCE = 1000
"""Commands of one page taken in at a time; those behind them are sent again."""


@dataclass(frozen=True, slots=True)
class Move:
    """Put one piece there: its centre, wall mm."""

    option_id: str | None
    piece_id: str
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class MoveMark:
    """Put these points of a mark there, photo px; the others stay wherever they are by now."""

    shape_id: str
    points: Points
    moved: tuple[int, ...]
    free: bool = False
    """Whether it stays just there, beside any edge."""
    drawn: Points = ()
    """Its points as the job had them when it was drawn for the hand."""


@dataclass(frozen=True, slots=True)
class KeepMark:
    """Put a mark that went to an edge back to where the hand let it go."""

    shape_id: str
    points: Points
    moved: tuple[int, ...]
    drawn: Points = ()


@dataclass(frozen=True, slots=True)
class Lock:
    """Keep one piece where it is, or no longer."""

    option_id: str | None
    piece_id: str
    kept: bool


@dataclass(frozen=True, slots=True)
class TakeFound:
    """Take what was found in the photo into the marks.

    A zone to keep clear, or furniture; under the name ``wall``, a part of the wall by a spot in it.
    """

    stands: bool
    name: str
    points: Points


@dataclass(frozen=True, slots=True)
class Undo:
    """Take the last change back."""


@dataclass(frozen=True, slots=True)
class Redo:
    """Make the change again that was undone last."""


@dataclass(frozen=True, slots=True)
class ChooseUnit:
    """Show lengths in a unit."""

    unit: Units


Command = Move | MoveMark | KeepMark | Lock | TakeFound | ChooseUnit | Undo | Redo


@dataclass(frozen=True, slots=True)
class Batch:
    """Commands of one page that have not been answered, in their order, each with its number."""

    hand: str
    commands: tuple[tuple[int, dict[str, Any]], ...]


def read_outbox(value: Any, job_id: str) -> Iterator[Batch]:
    """Read the commands for a job out of what a browser sent; what is no batch is passed over."""
    batches = value.get("batches") if isinstance(value, dict) else None
    for batch in batches if isinstance(batches, list) else []:
        if not isinstance(batch, dict) or batch.get("job") != job_id:
            continue
        hand, commands = batch.get("hand"), batch.get("commands")
        if not isinstance(hand, str) or not _is_hand(hand) or not isinstance(commands, list):
            continue
        numbered = [
            (command["number"], command)
            for command in commands[:_MOST_AT_ONCE]
            if isinstance(command, dict) and type(command.get("number")) is int
        ]
        yield Batch(hand, tuple(sorted(numbered, key=lambda one: one[0])))


def _is_hand(text: str) -> bool:
    return 0 < len(text) <= 40 and all(c in "0123456789abcdefghijklmnopqrstuvwxyz-" for c in text)


def read_command(value: dict[str, Any]) -> Command:
    """Check one command.

    Raises
    ------
    ProjectError
        If it is none.
    """
    option = value.get("option")
    option_id = option if isinstance(option, str) else None
    match value.get("kind"):
        case "move":
            return Move(option_id, str(value.get("piece")), *_point(value.get("to"), FARTHEST_MM))
        case "mark":
            points = checked_points(value.get("points"))
            free, drawn = bool(value.get("free")), _drawn(value)
            return MoveMark(str(value.get("id")), points, _moved(value, points), free, drawn)
        case "keep":
            points = checked_points(value.get("points"))
            return KeepMark(str(value.get("id")), points, _moved(value, points))
        case "found":
            points = checked_points(value.get("points"))
            return TakeFound(bool(value.get("stands")), str(value.get("name"))[:40], points)
        case "lock":
            return Lock(option_id, str(value.get("piece")), bool(value.get("kept")))
        case "unit":
            unit = next((one for one in UNITS if one == value.get("unit")), None)
            if unit is None:
                raise _misfit()
            return ChooseUnit(unit)
        case "undo":
            return Undo()
        case "redo":
            return Redo()
    raise _misfit()


def _drawn(value: dict[str, Any]) -> Points:
    drawn = value.get("drawn")
    return () if drawn is None else checked_points(drawn)


def _moved(value: dict[str, Any], points: Points) -> tuple[int, ...]:
    moved = value.get("moved")
    if not isinstance(moved, list):
        return tuple(range(len(points)))
    return tuple(i for i in range(len(points)) if i in moved)


def move_piece(document: Document, move: Move) -> Document:
    """Put a piece where it was let go, in the option it was moved in.

    Raises
    ------
    ProjectError
        If the option or the piece is there no more.
    """
    option = document.option(move.option_id)
    if move.piece_id not in {placement.piece_id for placement in option.placements}:
        raise _gone(document, move.piece_id)
    placements = tuple(
        Placement(move.piece_id, move.x_mm, move.y_mm) if p.piece_id == move.piece_id else p
        for p in option.placements
    )
    if placements == option.placements:
        return document
    moved = option.model_copy(update={"placements": placements, "family": "by hand"})
    return document.replacing(moved)


def lock_piece(document: Document, lock: Lock) -> Document:
    """Keep a piece where it is, or no longer.

    Raises
    ------
    ProjectError
        If the option or the piece is there no more.
    """
    option = document.option(lock.option_id)
    if lock.piece_id not in {placement.piece_id for placement in option.placements}:
        raise _gone(document, lock.piece_id)
    kept = tuple(i for i in option.kept if i != lock.piece_id)
    if lock.kept:
        kept = (*kept, lock.piece_id)
    if set(kept) == set(option.kept):
        return document
    return document.replacing(option.model_copy(update={"kept": kept}))


def take_found(document: Document, found: TakeFound) -> Document:
    """Add what was found to the marks.

    Raises
    ------
    ProjectError
        If it is of no kind that is marked, or has no outline.
    """
    marks = document.marks
    try:
        if found.name == WALL:
            taps = (*marks.wall_taps, WallTapEntry(at_px=found.points[0]))
            changed = marks.model_copy(update={"wall_taps": taps})
        elif found.stands:
            stands = FurnitureEntry.called(found.name, points_px=found.points)
            furniture = (*marks.furniture, stands)
            changed = marks.model_copy(update={"furniture": furniture})
        else:
            entry = {"kind": found.name, "points_px": found.points}
            zones = (*marks.zones, ZoneEntry.model_validate(entry))
            changed = marks.model_copy(update={"zones": zones})
        return document.changed(marks=MarksEntry.model_validate(dict(changed)))
    except ValueError as error:
        raise _misfit() from error


def move_mark(document: Document, mark: MoveMark | KeepMark) -> Document:
    """Move points of one of the marks.

    A mark is ``reference``, ``floor``, ``side``, ``outline`` or ``kind-index``; a spot that waited
    (``paint-0``, ``leave-0``) is added where it was dragged to. The reference's
    corners are shown where they were measured; those of them that were not moved stay where the
    person gave them.

    Raises
    ------
    ProjectError
        If there is no such mark by now, or it has another number of points.
    """
    name, _, number = mark.shape_id.partition("-")
    if number and not number.isdecimal():
        raise _misfit()
    try:
        marks = _MARKS[name](document.marks, int(number or 0), mark)
    except (KeyError, IndexError, ValueError, TypeError) as error:
        raise _misfit() from error
    return document if marks == document.marks else document.changed(marks=marks)


def _placed(given: Points, mark: MoveMark | KeepMark) -> Points:
    """Points as given, those that were moved where the hand put them."""
    if len(given) != len(mark.points):
        raise ValueError("a mark has a point more or less by now")
    return tuple(mark.points[i] if i in mark.moved else given[i] for i in range(len(given)))


def _by_now(listed: Sequence[Points], index: int, mark: MoveMark | KeepMark) -> int:
    """Find the place of a mark in its list: one before it may have gone since it was drawn."""
    same = [k for k, points in enumerate(listed) if _are_same(points, mark.drawn)]
    return same[0] if len(same) == 1 else index


def _are_same(points: Points, others: Points) -> bool:
    return len(points) == len(others) > 0 and all(
        math.dist(one, other) < _SAME_PX for one, other in zip(points, others, strict=True)
    )


_Mover = Callable[[MarksEntry, int, MoveMark | KeepMark], MarksEntry]


def _reference(marks: MarksEntry, _: int, mark: MoveMark | KeepMark) -> MarksEntry:
    given = marks.reference.corners_px or mark.points
    as_set = isinstance(mark, KeepMark)  # what the hand kept is looked at for no edges
    reference = marks.reference.model_copy(
        update={"corners_px": _placed(given, mark), "as_set": as_set}
    )
    return marks.model_copy(update={"reference": reference})


def _points(field: str) -> _Mover:
    def move(marks: MarksEntry, _: int, mark: MoveMark | KeepMark) -> MarksEntry:
        return marks.model_copy(update={field: _placed(getattr(marks, field) or (), mark)})

    return move


def _side(marks: MarksEntry, _: int, mark: MoveMark | KeepMark) -> MarksEntry:
    given = (marks.side_px,) if marks.side_px is not None else ()
    (point,) = _placed(given, mark)
    return marks.model_copy(update={"side_px": point})


def _ends(field: str) -> _Mover:
    def move(marks: MarksEntry, index: int, mark: MoveMark | KeepMark) -> MarksEntry:
        items = list(getattr(marks, field))
        index = _by_now([(item.start_px, item.end_px) for item in items], index, mark)
        start, end = _placed((items[index].start_px, items[index].end_px), mark)
        items[index] = replace(items[index], start_px=start, end_px=end)
        return marks.model_copy(update={field: tuple(items)})

    return move


def _wall_part(marks: MarksEntry, index: int, mark: MoveMark | KeepMark) -> MarksEntry:
    taps = list(marks.wall_taps)
    index = _by_now([(tap.at_px,) for tap in taps], index, mark)
    (at_px,) = _placed((taps[index].at_px,), mark)
    taps[index] = taps[index].model_copy(update={"at_px": at_px})
    return marks.model_copy(update={"wall_taps": tuple(taps)})


def _new_wall_part(wall: bool) -> _Mover:
    def add(marks: MarksEntry, _: int, mark: MoveMark | KeepMark) -> MarksEntry:
        (at_px,) = mark.points
        taps = (*marks.wall_taps, WallTapEntry(at_px=at_px, wall=wall))
        return marks.model_copy(update={"wall_taps": taps})

    return add


def _outline(field: str, *names: str) -> _Mover:
    def move(marks: MarksEntry, index: int, mark: MoveMark | KeepMark) -> MarksEntry:
        items = list(getattr(marks, field))
        index = _by_now([getattr(item, names[0]) or () for item in items], index, mark)
        name = next(n for n in names if getattr(items[index], n) is not None)
        points = _placed(getattr(items[index], name), mark)
        items[index] = items[index].model_copy(update={name: points})
        return marks.model_copy(update={field: tuple(items)})

    return move


_MARKS: dict[str, _Mover] = {
    "reference": _reference,
    "floor": _points("floor_px"),
    "side": _side,
    "outline": _points("outline_px"),
    "line": _ends("lines"),
    "tape": _ends("taped"),
    "zone": _outline("zones", "points_px", "points_mm"),
    "furniture": _outline("furniture", "points_px", "points_mm"),
    "front": _outline("in_front", "outline_px"),
    "gone": _outline("painted_out", "outline_px"),
    "part": _wall_part,
    "paint": _new_wall_part(True),
    "leave": _new_wall_part(False),
}


def _point(value: Any, farthest: float) -> tuple[float, float]:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise _misfit()
    for number in value:
        if isinstance(number, bool) or not isinstance(number, int | float):
            raise _misfit()
        if not -farthest <= number <= farthest:  # of any size, and no number is neither
            raise _misfit()
    return float(value[0]), float(value[1])


def checked_points(value: Any) -> Points:
    """Points that the browser sent, in photo px.

    Raises
    ------
    ProjectError
        If they are no points.
    """
    if not isinstance(value, list | tuple) or not 1 <= len(value) <= 500:
        raise _misfit()
    return tuple(_point(point, _FARTHEST_PX) for point in value)


def _gone(document: Document, piece_id: str) -> ProjectError:
    name = next((p.name or p.id for p in document.pieces if p.id == piece_id), piece_id)
    return ProjectError(
        f"{name} is no longer on this wall; what was done to it here is left out.",
        hint="It was taken away meanwhile, perhaps in another window: Undo brings it back.",
    )


def _misfit() -> ProjectError:
    return ProjectError(
        "The last change on the wall does not fit the job any more and is left out.",
        hint="Something was changed meanwhile, perhaps in another window; look at it and do it "
        "again.",
    )

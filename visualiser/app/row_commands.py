"""Rows of the table of pieces as hands change them: each cell is an edit of its own.

A row that is not complete yet, or cannot be what it says, is no piece. It waits on the page, as it
is typed, until it can be one. A row keeps its name when it becomes a piece or its piece is marked
otherwise, so that what was typed in it meanwhile still reaches it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, get_args

from visualiser.app.piece_table import COLUMNS, Row, rows_of, table_change
from visualiser.app.session import Kept
from visualiser.errors import ProjectError
from visualiser.project.document import Document
from visualiser.units import Unit

TYPED = COLUMNS[1:]
"""Columns that a person types in."""
NEW = "new-"
"""What names of rows begin with that are no piece yet."""
_LONGEST_NAME, _LONGEST_CELL, _MOST_WAITING = 80, 300, 200


@dataclass(frozen=True, slots=True)
class EditRow:
    """Put texts into cells of a row, which begins with them where there is none of its name."""

    row: str
    cells: Mapping[str, str]
    unit: Unit
    """Unit of what is typed without one."""
    was: Mapping[str, str] = field(default_factory=dict)
    """What had been sent of a new row before: its piece is known by it where its name is not."""


@dataclass(frozen=True, slots=True)
class RemoveRow:
    """Take a row away, and its piece with it."""

    row: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """What a page keeps of a job's table beside the job itself.

    Parameters
    ----------
    job_id
        The job.
    rows
        Rows that are not as they are typed in the job.
    names
        Names of rows by their pieces' marks, where they differ.
    """

    job_id: str = ""
    rows: tuple[Row, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)


_WAITING: Kept[Waiting] = Kept("pieces-waiting")


def waiting_rows(job_id: str) -> Waiting:
    """Recall what this page keeps of a job's table."""
    kept = _WAITING.get()
    return kept if kept is not None and kept.job_id == job_id else Waiting(job_id)


def keep_waiting(waiting: Waiting) -> None:
    """Keep it until the table changes again."""
    _WAITING.put(waiting)


def read_row(value: dict[str, Any]) -> EditRow | RemoveRow | None:
    """Read an edit of a row; None for a command of another kind.

    Raises
    ------
    ProjectError
        If it names no row, or no cells of it.
    """
    kind, row = value.get("kind"), value.get("row")
    if kind not in ("row", "row-gone"):
        return None
    if not isinstance(row, str) or not 0 < len(row) <= _LONGEST_NAME:
        raise _misfit()
    if kind == "row-gone":
        return RemoveRow(row)
    unit = next((known for known in get_args(Unit) if known == value.get("unit")), None)
    cells, was = _cells(value.get("cells")), _cells(value.get("was", {}))
    if not cells or unit is None:
        raise _misfit()
    return EditRow(row, cells, unit, was)


def _cells(value: object) -> dict[str, str]:
    if not isinstance(value, dict):
        raise _misfit()
    if not all(name in TYPED and isinstance(text, str) for name, text in value.items()):
        raise _misfit()
    return {name: text.strip()[:_LONGEST_CELL] for name, text in value.items()}


def shown_rows(document: Document, unit: Unit, waiting: Waiting) -> list[Row]:
    """Write the table's rows: the pieces, then what waits to become one; each has its name."""
    return [
        {**row, "row": waiting.names.get(row["key"], row["key"])} if row.get("key") else dict(row)
        for row in rows_of(document, unit, waiting.rows)
    ]


def edit_rows(
    document: Document, command: EditRow | RemoveRow, waiting: Waiting
) -> tuple[Document, Waiting]:
    """Carry out an edit of the table.

    Parameters
    ----------
    document
        The job.
    command
        The edit.
    waiting
        What the page keeps of the table.

    Returns
    -------
    The job, and what the page keeps from now on. A row that cannot be in the job as it is typed
    leaves the job as it was.

    Raises
    ------
    ProjectError
        If its piece is not in the job any more, or more rows wait than a page keeps.
    """
    unit = command.unit if isinstance(command, EditRow) else document.units
    rows = shown_rows(document, unit, waiting)
    there = next((row for row in rows if row["row"] == command.row), None)
    if isinstance(command, RemoveRow):
        rows = [row for row in rows if row is not there]
    else:
        there = there or _made_of(command, rows)
        if there is None:
            if not command.row.startswith(NEW):
                raise ProjectError(
                    f"The piece {command.row} is not in the job any more.",
                    hint="Its row was removed in another window; begin another one for it.",
                )
            there = {**dict.fromkeys(COLUMNS, ""), "row": command.row}
            rows.append(there)
        there.update(command.cells)
    outcome = table_change(document, rows, unit)
    if len(outcome.waiting) > _MOST_WAITING:
        raise ProjectError(
            f"More than {_MOST_WAITING} rows of the table are not complete.",
            hint="Type the width and height of some of them first.",
        )
    ids = zip(outcome.ids, rows, strict=True)
    names = {key: row["row"] for key, row in ids if key is not None and key != row["row"]}
    return outcome.document, Waiting(waiting.job_id, outcome.waiting, names)


def _made_of(command: EditRow, rows: list[Row]) -> Row | None:
    """Find the piece that a new row has become, on a page that was loaded anew since.

    It was sent before this edit, and commands are carried out in their order: so it is there,
    unless it has been taken away.
    """
    if not (command.was.get("width") and command.was.get("height")):
        return None
    begun = {**dict.fromkeys(COLUMNS, ""), **command.was}
    (made,) = table_change(Document(), [begun], command.unit).document.pieces or (None,)
    if made is None:
        return None
    like = rows_of(Document(pieces=(made,)), command.unit)[0]
    same = [row for row in rows if all(row[n] == like[n] for n in ("name", "width", "height"))]
    if not same:
        return None
    same[-1]["row"] = command.row
    return same[-1]


def _misfit() -> ProjectError:
    return ProjectError(
        "A change to the table came without its row, and is left out.",
        hint="Reload the page and make it again.",
    )

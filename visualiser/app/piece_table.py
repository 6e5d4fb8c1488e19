"""The table of pieces: rows as the person types them, and the job they make."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from visualiser.app.fields import KG_PER_LB
from visualiser.errors import PieceError, UnitError, VisualiserError
from visualiser.inventory.piece import Mat, Moulding
from visualiser.project.document import Document
from visualiser.project.piece_entries import OptionEntry, PieceEntry
from visualiser.units import Unit, format_length, parse_length

COLUMNS = ("key", "name", "width", "height", "frame", "mat", "weight", "id")
Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class TableChange:
    """What came of a table: the job, and the rows that are not in it as they are typed."""

    document: Document
    problems: tuple[str, ...] = ()
    """Why each of them is not, by its number in the table."""
    waiting: tuple[Row, ...] = ()
    """Those rows themselves, to be shown again as they are typed."""
    ids: tuple[str | None, ...] = field(default=(), compare=False)
    """Marks of the pieces by row; None of a row that is none."""


def rows_of(document: Document, unit: Unit, waiting: Sequence[Row] = ()) -> list[Row]:
    """Write the pieces as rows, lengths in the person's unit.

    Rows that wait for something take their pieces' places, and fresh ones stand below.
    """
    typed = {cell_text(row, "key"): row for row in waiting if cell_text(row, "key")}
    rows: list[Row] = [
        {
            "key": piece.id,  # not shown: says which piece a row is, whatever is typed in it
            "id": piece.id,
            "name": piece.name,
            "width": format_length(piece.width_mm, unit),
            "height": format_length(piece.height_mm, unit),
            "frame": format_length(piece.moulding.width_mm, unit) if piece.moulding else "",
            "mat": format_length(piece.mat.sides_mm, unit) if piece.mat else "",
            "weight": _shown_weight(piece.weight_kg, unit),
        }
        for piece in document.pieces
    ]
    fresh = [row for row in waiting if not cell_text(row, "key")]
    return [typed.get(cell_text(row, "key"), row) for row in rows] + fresh


def table_change(document: Document, rows: list[Row], unit: Unit) -> TableChange:
    """Carry the rows over into the job, each for itself.

    A piece keeps all that the table does not show. Places of removed pieces go with them. A row
    that is not complete yet or cannot be what it says waits; its piece stays as it was.
    """
    known = {piece.id: piece for piece in document.pieces}
    entries: list[PieceEntry] = []
    waiting: list[Row] = []
    problems: list[str] = []
    names: dict[str, str] = {}
    ids: list[str | None] = []
    used: set[str] = set()
    unchanged = {
        cell_text(row, "key") for row in rows if cell_text(row, "key") == cell_text(row, "id")
    }
    for number, row in enumerate(rows, 1):
        old = known.get(cell_text(row, "key"))
        entry: PieceEntry | None = None
        try:
            piece_id = cell_text(row, "id") or _free_id(known, rows, entries)
            another = old is None or piece_id != old.id
            if piece_id in used or (another and piece_id in unchanged):
                raise PieceError(
                    f"Mark: {piece_id} is another piece's.", hint="Choose a mark of its own."
                )
            if cell_text(row, "width") and cell_text(row, "height"):
                entry = _entry(row, piece_id, old, unit)
            elif any(cell_text(row, name) for name in COLUMNS[1:]):
                problems.append(f"Row {number} needs its width and height.")
                waiting.append(row)
        except VisualiserError as error:
            problems.append(f"Row {number}, {error.message} {error.hint}")
            waiting.append(row)
        entry = entry or old
        ids.append(None if entry is None else entry.id)
        if entry is None:
            continue
        if old is not None:
            names[old.id] = entry.id
        used.add(entry.id)
        entries.append(entry)
    options = tuple(_renamed(option, names) for option in document.options)
    changed = document.changed(pieces=tuple(entries), options=options)
    return TableChange(changed, tuple(problems), tuple(waiting), tuple(ids))


def _renamed(option: OptionEntry, names: dict[str, str]) -> OptionEntry:
    """Follow pieces that were given another id; leave out those that went."""
    placements = tuple(
        replace(p, piece_id=names[p.piece_id]) for p in option.placements if p.piece_id in names
    )
    kept = tuple(names[i] for i in option.kept if i in names)
    return option.model_copy(update={"placements": placements, "kept": kept})


def _entry(row: Row, piece_id: str, known: PieceEntry | None, unit: Unit) -> PieceEntry:
    old = known or PieceEntry(id=piece_id, width_mm=1000, height_mm=1000)
    rail = _length(row, "frame", old.moulding.width_mm if old.moulding else None, unit)
    side = _length(row, "mat", old.mat.sides_mm if old.mat else None, unit)
    moulding, mat = old.moulding, old.mat
    if rail is None:
        moulding = Moulding() if known is None else None
    elif moulding is None or moulding.width_mm != rail:
        moulding = replace(moulding or Moulding(), width_mm=rail)
    if side is None:
        mat = None
    elif mat is None or mat.sides_mm != side:
        mat = replace(mat or Mat(side, side, side), top_mm=side, sides_mm=side, bottom_mm=side)
    values = {
        **dict(old),
        "id": piece_id,
        "name": cell_text(row, "name"),
        "width_mm": _length(row, "width", known.width_mm if known else None, unit),
        "height_mm": _length(row, "height", known.height_mm if known else None, unit),
        "moulding": moulding,
        "mat": mat,
        "weight_kg": _weight_kg(row, known.weight_kg if known else None, unit),
    }
    if known is not None and values == dict(known):
        return known
    try:
        return PieceEntry.model_validate(values)
    except ValueError as error:
        raise PieceError(
            f"{piece_id} cannot be as typed.", hint="Check its sizes, mark and title."
        ) from error


def _length(row: Row, name: str, old_mm: float | None, unit: Unit) -> float | None:
    typed = cell_text(row, name)
    if not typed:
        return None
    if old_mm is not None and typed == format_length(old_mm, unit):
        return old_mm
    try:
        return parse_length(typed, default_unit=unit)
    except UnitError as error:
        raise UnitError(f"{name.capitalize()}: {error.message}", hint=error.hint) from error


def _shown_weight(weight_kg: float | None, unit: Unit) -> float | None:
    """Give a weight in kg, or in lb where lengths are in inches."""
    if weight_kg is None or unit != "in":
        return weight_kg
    return round(weight_kg / KG_PER_LB, 2)


def _weight_kg(row: Row, old_kg: float | None, unit: Unit) -> float | None:
    text = cell_text(row, "weight")
    if not text:
        return None
    try:
        typed = float(text.replace(",", "."))
    except ValueError:
        typed = math.nan
    if not 0.01 <= typed <= 1000.0:
        raise PieceError(f"Weight: {text} is none.", hint="Type a number from 0.01 to 1000.")
    if typed == _shown_weight(old_kg, unit):
        return old_kg  # what was only printed keeps its full precision
    return typed * (KG_PER_LB if unit == "in" else 1.0)


def cell_text(row: Row, name: str) -> str:
    """Read a cell as text; empty where there is none."""
    value = row.get(name)
    if value is None or value != value:  # an empty cell of a table may be NaN
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value).strip()


def _free_id(known: dict[str, PieceEntry], rows: list[Row], entries: list[PieceEntry]) -> str:
    used = {*known, *(cell_text(row, "id") for row in rows), *(entry.id for entry in entries)}
    return next(f"p{n}" for n in range(1, len(used) + 2) if f"p{n}" not in used)

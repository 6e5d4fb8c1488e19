"""Lists of pieces as CSV, as spreadsheets write it.

Lengths may be written as the trade does (``24 3/8 in``); what has no unit is in the unit named by
the caller.
"""

from __future__ import annotations

import csv
import io
import math
from typing import Any

from visualiser.errors import PieceError, UnitError
from visualiser.inventory.piece import Hanger, Mat, Moulding, Piece
from visualiser.inventory.piece_list import CHOICES, MOST_PIECES, ListedPiece, checked
from visualiser.table import Table, TableError, read_table
from visualiser.units import Unit, parse_length

COLUMNS = (
    "id",
    "name",
    "width",
    "height",
    "depth",
    "artwork",
    "artwork fit",
    "moulding width",
    "moulding depth",
    "moulding rebate",
    "finish",
    "profile",
    "moulding colour",
    "mat top",
    "mat sides",
    "mat bottom",
    "mat overlap",
    "mat colour",
    "glazing",
    "hanger",
    "hanger drop",
    "hanger spacing",
    "hooks",
    "weight kg",
    "kind",
    "glazing mm",
)
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def pieces_to_csv(listed: list[ListedPiece]) -> str:
    """Write pieces as CSV with a header line; lengths in mm."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for item in listed:
        row = {column: _cell(value) for column, value in _row(item).items()}
        writer.writerow(row)
    return out.getvalue()


def pieces_from_csv(text: str, unit: Unit = "mm") -> list[ListedPiece]:
    """Read pieces from CSV (comma, semicolon or tab), header first; unknown columns are refused.

    Parameters
    ----------
    text
        The table. Only ``id``, ``width`` and ``height`` must be there.
    unit
        Of lengths that name none.

    Raises
    ------
    PieceError
        Names the line and the column that cannot be read, and what to write there.
    """
    table = table_of_pieces(text)
    header = [cell.strip().lower() for cell in table.header]
    _check_header(header)
    listed = []
    for line, row in table.rows:
        if len(row) > len(header) and any(cell.strip() for cell in row[len(header) :]):
            raise PieceError(
                f"Line {line} of the list has more cells than the header has columns.",
                hint="Put text with a comma in quotation marks.",
            )
        cells = {
            name: unquoted(cell) for name, cell in zip(header, row, strict=False) if cell.strip()
        }
        listed.append(listed_piece(cells, f"Line {line}", unit))
    return checked(listed)


def table_of_pieces(text: str) -> Table:
    """Split a list of pieces into header and rows, no more than a list may have and one.

    Raises
    ------
    PieceError
        If there is nothing in it, or a line is not CSV.
    """
    try:
        return read_table(text, MOST_PIECES)
    except TableError as reason:
        if reason.line is None:
            raise PieceError(
                "The list is empty.",
                hint="Start it with a line of column names: id, width, height.",
            ) from reason
        raise PieceError(
            f"Line {reason.line} of the list is {reason}.",
            hint="Save the list again as CSV from the spreadsheet.",
        ) from reason


def _check_header(header: list[str]) -> None:
    unknown = [name for name in header if name and name not in COLUMNS]
    if unknown:
        raise PieceError(
            f"The list has a column “{unknown[0]}”, which is not known.",
            hint=f"Known columns: {', '.join(COLUMNS)}.",
        )
    missing = [name for name in ("id", "width", "height") if name not in header]
    if missing:
        raise PieceError(
            f"The list has no column “{missing[0]}”.",
            hint="Its first line must name at least id, width and height.",
        )


def _row(item: ListedPiece) -> dict[str, Any]:
    piece = item.piece
    row: dict[str, Any] = {
        "id": piece.id,
        "name": piece.name,
        "width": piece.width_mm,
        "height": piece.height_mm,
        "depth": piece.depth_mm,
        "artwork": item.artwork_file,
        "artwork fit": piece.artwork_fit,
        "moulding width": "none",
        "glazing": piece.glazing,
        "hanger": piece.hanger.kind,
        "hanger drop": piece.hanger.drop_mm,
        "hanger spacing": piece.hanger.spacing_mm,
        "hooks": piece.hanger.hooks,
        "weight kg": piece.weight_kg,
        "kind": piece.kind,
        "glazing mm": piece.glazing_mm,
    }
    if piece.moulding:
        row |= {
            "moulding width": piece.moulding.width_mm,
            "moulding depth": piece.moulding.depth_mm,
            "moulding rebate": piece.moulding.rebate_mm,
            "finish": piece.moulding.finish,
            "profile": piece.moulding.profile,
            "moulding colour": piece.moulding.colour,
        }
    if piece.mat:
        row |= {
            "mat top": piece.mat.top_mm,
            "mat sides": piece.mat.sides_mm,
            "mat bottom": piece.mat.bottom_mm,
            "mat overlap": piece.mat.overlap_mm,
            "mat colour": piece.mat.colour,
        }
    return row


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    text = str(value)
    # A spreadsheet would run a cell that starts like a formula.
    return "'" + text if text.startswith((*_FORMULA, "'")) else text


def unquoted(cell: str) -> str:
    """Cell as meant: without the sign that keeps a spreadsheet from running it."""
    cell = cell.strip()
    return cell[1:] if cell.startswith("'") and cell[1:].startswith((*_FORMULA, "'")) else cell


def piece_cells(piece: Piece) -> dict[str, str]:
    """Cells that a list has for a piece, by column; lengths in mm."""
    return {column: _cell(value) for column, value in _row(ListedPiece(piece)).items()}


class _Cells:
    """Typed look at one line's cells, with errors that name line and column."""

    def __init__(self, cells: dict[str, str], where: str, unit: Unit) -> None:
        self._cells, self._where, self._unit = cells, where, unit

    def text(self, name: str, default: str = "") -> str:
        return self._cells.get(name, default)

    def length(self, name: str, default: float) -> float:
        found = self.some_length(name)
        return default if found is None else found

    def some_length(self, name: str) -> float | None:
        text = self._cells.get(name)
        if text is None:
            return None
        try:
            return parse_length(text, self._unit)
        except UnitError as reason:
            raise PieceError(
                f"{self._where}, {name}: {reason.message}", hint=reason.hint
            ) from reason

    def number(self, name: str) -> float | None:
        text = self._cells.get(name)
        if text is None:
            return None
        try:
            number = float(text.replace(",", "."))
            if not math.isfinite(number):
                raise ValueError(text)
            return number
        except ValueError:
            raise PieceError(
                f"{self._where}, {name}: “{text}” is not a number.", hint="Write it as in 2.5."
            ) from None

    def choice(self, name: str, default: str) -> Any:
        text = self._cells.get(name, default).lower()
        if text not in CHOICES[name]:
            raise PieceError(
                f"{self._where}, {name}: “{text}” is not known.",
                hint=f"Write one of {', '.join(CHOICES[name])}.",
            )
        return text


def listed_piece(cells: dict[str, str], where: str, unit: Unit) -> ListedPiece:
    """Make a piece of one row's cells by column; errors name ``where`` and the column."""
    row = _Cells(cells, where, unit)
    try:
        piece = Piece(
            id=row.text("id"),
            width_mm=row.length("width", 0.0),
            height_mm=row.length("height", 0.0),
            name=row.text("name"),
            moulding=_moulding(row),
            mat=_mat(row),
            glazing=row.choice("glazing", "clear"),
            hanger=Hanger(
                row.choice("hanger", "d-rings"),
                row.some_length("hanger drop"),
                row.some_length("hanger spacing"),
                hooks=None if (hooks := row.number("hooks")) is None else int(hooks),
            ),
            weight_kg=row.number("weight kg"),
            depth_mm=row.length("depth", 20.0),
            artwork_fit=row.choice("artwork fit", "cut"),
            kind=row.choice("kind", "picture"),
            glazing_mm=row.number("glazing mm"),
        )
    except PieceError as reason:
        if reason.message.startswith(where):
            raise
        raise PieceError(f"{where}: {reason.message}", hint=reason.hint) from reason
    return ListedPiece(piece, row.text("artwork"))


def _moulding(row: _Cells) -> Moulding | None:
    if row.text("moulding width").lower() in ("none", "no"):
        return None
    usual = Moulding()
    return Moulding(
        row.length("moulding width", usual.width_mm),
        row.length("moulding depth", usual.depth_mm),
        row.choice("finish", usual.finish),
        row.choice("profile", usual.profile),
        row.text("moulding colour"),
        row.length("moulding rebate", usual.rebate_mm),
    )


def _mat(row: _Cells) -> Mat | None:
    sides = row.some_length("mat sides")
    top, bottom = row.some_length("mat top"), row.some_length("mat bottom")
    given = [width for width in (sides, top, bottom) if width is not None]
    if not given:
        return None
    even = given[0]
    return Mat(
        even if top is None else top,
        even if sides is None else sides,
        (even if top is None else top) if bottom is None else bottom,
        row.length("mat overlap", 3.0),
        row.text("mat colour", "#f4f1ea"),
    )

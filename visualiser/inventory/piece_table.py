"""A list of pieces as people keep it: any spreadsheet's CSV, or JSON, brought to the columns known.

Delimiter, decimal sign, encoding and the order of the columns are read from the file itself. What
a column is called may differ, too: ``Title``, ``Width (cm)`` and ``size`` are understood.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from visualiser.errors import PieceError, UnitError, VisualiserError
from visualiser.inventory.piece_csv import (
    COLUMNS,
    listed_piece,
    pieces_to_csv,
    table_of_pieces,
    unquoted,
)
from visualiser.inventory.piece_json import pieces_from_json
from visualiser.inventory.piece_list import MOST_PIECES, ListedPiece, checked
from visualiser.table import TableError, decode_text
from visualiser.units import Unit, parse_size

MOST_NAMED = 10
"""Bad lines that one error names; more are counted."""
_ALIASES = {
    "title": "name",
    "piece": "name",
    "work": "name",
    "no": "id",
    "nr": "id",
    "number": "id",
    "mark": "id",
    "w": "width",
    "h": "height",
    "outside width": "width",
    "outside height": "height",
    "dimensions": "size",
    "outside size": "size",
    "file": "artwork",
    "filename": "artwork",
    "artwork file": "artwork",
    "image": "artwork",
    "picture": "artwork",
    "weight": "weight kg",
    "kg": "weight kg",
    "glass": "glazing",
    "frame": "finish",
    "moulding": "finish",
    "frame width": "moulding width",
    "frame depth": "moulding depth",
    "mat": "mat sides",
    "mount": "mat sides",
}
"""Other words for a column; common practice, no source."""
LENGTH_COLUMNS = {
    name for name in COLUMNS if name.split()[0] in ("width", "height", "depth", "mat")
}
LENGTH_COLUMNS |= {"moulding width", "moulding depth", "moulding rebate", "hanger drop"}
LENGTH_COLUMNS |= {"hanger spacing", "size"}
LENGTH_COLUMNS -= {"mat colour"}
_UNIT_AT_END = re.compile(r"^(.*?)[\s_]*[\[(/]?\s*\b(mm|cm|m|in|inch|inches|ft)\.?\s*[\])]?$")


@dataclass(frozen=True, slots=True)
class PieceTable:
    """Pieces of a list, and the columns that nothing was read from."""

    listed: tuple[ListedPiece, ...]
    ignored: tuple[str, ...] = ()


def read_pieces(data: bytes, unit: Unit = "mm") -> PieceTable:
    """Read pieces from the bytes of a CSV or JSON file.

    Parameters
    ----------
    data
        The file. CSV has a header line; width and height (or size) must be among its columns.
        Rows without an id take one from their name.
    unit
        Of lengths that name none, neither in the cell nor in the column's heading.

    Raises
    ------
    PieceError
        Names each line that cannot be read, and what to write there.
    """
    text = _decoded(data)
    if text.lstrip()[:1] in ("{", "["):
        return PieceTable(tuple(pieces_from_json(text)))
    table = table_of_pieces(text)
    if not table.rows:
        raise PieceError(
            "The list names no piece.", hint="Write one piece a line below the header."
        )
    names, units, ignored = _columns(table.header)
    listed: list[ListedPiece] = []
    faults: list[VisualiserError] = []
    taken: set[str] = set()
    for line, row in table.rows:
        try:
            cells = _cells(line, row, names, units, table.delimiter)
            if not cells.get("id"):
                cells["id"] = free_id(cells.get("name", ""), taken)
            elif cells["id"] in taken:
                raise PieceError(
                    f"Line {line}: the id {cells['id']} is taken by an earlier line.",
                    hint="Give each piece an id of its own, or leave the column out.",
                )
            listed.append(listed_piece(cells, f"Line {line}", unit))
            taken.add(cells["id"])
        except VisualiserError as fault:
            faults.append(fault)
    if faults:
        raise _several(faults)
    return PieceTable(tuple(checked(listed)), ignored)


def write_table(listed: Sequence[ListedPiece]) -> str:
    """Write pieces as CSV whose headings say their unit, for any reader."""
    header, _, rows = pieces_to_csv(list(listed)).partition("\n")
    named = [f"{n} mm" if n in LENGTH_COLUMNS else n for n in header.split(",")]
    return ",".join(named) + "\n" + rows


def _decoded(data: bytes) -> str:
    try:
        return decode_text(data)
    except TableError as reason:
        raise PieceError(
            f"The list is {reason}.", hint="Save it as CSV in UTF-8 from the spreadsheet."
        ) from reason


def _columns(header: Sequence[str]) -> tuple[list[str], dict[str, str], tuple[str, ...]]:
    """Known names of the columns, empty for others; units that headings state; the others."""
    names, units, ignored = [], {}, []
    for cell in header:
        plain = re.sub(r"[\s_\-]+", " ", cell.strip().lower()).rstrip(":")
        name = _known(plain)
        if not name and (match := _UNIT_AT_END.match(plain)):
            name = _known(match[1].strip())
            if name in LENGTH_COLUMNS:
                units[name] = match[2]
            elif name:
                name = ""
        if name and name in names:
            raise PieceError(
                f"The list has two columns for {name}.", hint="Keep one of them, or rename it."
            )
        if plain and not name:
            near = difflib.get_close_matches(plain, (*COLUMNS, "size"), n=1, cutoff=0.8)
            if near:
                raise PieceError(
                    f"The list has a column “{cell.strip()}”, which is not known.",
                    hint=f"Did you mean {near[0]}? Known columns: {', '.join(COLUMNS)}.",
                )
            ignored.append(cell.strip())
        names.append(name)
    missing = [name for name in ("width", "height") if name not in names and "size" not in names]
    if missing:
        raise PieceError(
            f"The list has no column “{missing[0]}”.",
            hint="Its first line must name at least width and height, or size.",
        )
    return names, units, tuple(ignored)


def _known(plain: str) -> str:
    name = _ALIASES.get(plain, plain)
    return name if name in COLUMNS or name == "size" else ""


def _cells(
    line: int, row: Sequence[str], names: list[str], units: dict[str, str], delimiter: str
) -> dict[str, str]:
    """One row by known names, its lengths with the unit of their heading."""
    if any(cell.strip() for cell in row[len(names) :]):
        raise PieceError(
            f"Line {line} of the list has more cells than the header has columns.",
            hint="Put text with a comma in quotation marks.",
        )
    cells = {n: unquoted(c) for n, c in zip(names, row, strict=False) if n and c.strip()}
    for name in LENGTH_COLUMNS & cells.keys():
        text = cells[name]
        if delimiter == ";":  # a list with semicolons has decimal commas: 1,250 is no thousand
            text = re.sub(r"(?<=\d),(?=\d{3}\b)", ".", text)
        if name in units and re.search(r"\d\W*$", text):
            text = f"{text} {units[name]}"
        cells[name] = text
    if size := cells.pop("size", ""):
        try:
            width, height = parse_size(size, "mm" if "size" in units else None)
        except UnitError:
            cells.setdefault("width", "")
            sides = re.split(r"\s*(?:x|×|\*|\bby\b)\s*", size.lower())
            if len(sides) != 2:
                raise PieceError(
                    f"Line {line}, size: “{size}” is not a width and a height.",
                    hint="Write them as in 24 x 30 in.",
                ) from None
            cells["width"], cells["height"] = sides  # no unit: the list's own is taken for both
        else:
            cells["width"], cells["height"] = f"{width!r} mm", f"{height!r} mm"
    return cells


def free_id(name: str, taken: Collection[str]) -> str:
    """Short id of a piece that has none: its name, or a number, with a further number if taken."""
    stem = re.sub(r"[^\w]+", "-", name.strip().lower()).strip("-")[:30]
    if not stem:
        return next(f"p{k}" for k in range(1, MOST_PIECES + 2) if f"p{k}" not in taken)
    if stem not in taken:
        return stem
    return next(f"{stem}-{k}" for k in range(2, MOST_PIECES + 3) if f"{stem}-{k}" not in taken)


def _several(faults: list[VisualiserError]) -> PieceError:
    """One error that names every line."""
    if len(faults) == 1:
        return PieceError(faults[0].message, hint=faults[0].hint)
    shown = [fault.message.rstrip(".") for fault in faults[:MOST_NAMED]]
    more = f" (and {len(faults) - MOST_NAMED} more)" if len(faults) > MOST_NAMED else ""
    return PieceError(
        f"{len(faults)} lines of the list cannot be read: {'; '.join(shown)}{more}.",
        hint=faults[0].hint,
    )

"""Where candidate artworks come from: a folder of pictures, or a list with sizes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from visualiser.errors import PieceError, UnitError
from visualiser.table import TableError, decode_text, read_table
from visualiser.units import Unit, parse_length

MOST_LISTED = 1_000_000
"""Artworks of one list: far above the largest catalogue tried, 20,000."""
PICTURE_SUFFIXES = frozenset({".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif"})


@dataclass(frozen=True, slots=True)
class Candidate:
    """One artwork to be indexed.

    Parameters
    ----------
    file
        Its name in the catalogue: the path from the folder or list, with forward slashes.
    path
        Where it is.
    title
        For people; the file's stem when not given.
    width_mm, height_mm
        Size it is sold in, where known.
    """

    file: str
    path: Path
    title: str = ""
    width_mm: float | None = None
    height_mm: float | None = None

    @property
    def details(self) -> tuple[str, float | None, float | None]:
        """Title and size."""
        return (self.title or self.path.stem, self.width_mm, self.height_mm)


def from_folder(folder: Path) -> Iterator[Candidate]:
    """Pictures of a folder and its subfolders, in the order of their names.

    Raises
    ------
    PieceError
        If it is no folder.
    """
    if not folder.is_dir():
        raise PieceError(f"{folder.name} is not a folder.", hint="Choose a folder of pictures.")
    for path in sorted(folder.rglob("*")):
        if path.suffix.lower() in PICTURE_SUFFIXES and path.is_file():
            yield Candidate(path.relative_to(folder).as_posix(), path)


def from_list(table: Path, unit: Unit | None = None) -> Iterator[Candidate]:
    """Artworks of a CSV file with the columns file, and title, width, height where known.

    Files are looked for beside the list. Sizes may be written as the trade does, or their unit
    stand in the column's heading, as in ``width (cm)``.

    Parameters
    ----------
    table
        The list.
    unit
        Of sizes that name none; by default `assumed_unit` finds it.

    Raises
    ------
    PieceError
        If the list cannot be read, has no column ``file``, or a size makes no sense; the message
        names the line.
    """
    listing = _listing(table)
    bare = unit or _bare_unit(listing) or "mm"
    seen: set[str] = set()
    for line, row in listing.rows:
        file = row.get("file", "").replace("\\", "/")
        if not file or file in seen:
            continue
        seen.add(file)
        sizes = [_size(row, name, f"Line {line} of {table.name}", bare) for name in _SIZES]
        yield Candidate(file, table.parent / file, row.get("title", ""), *sizes)


def assumed_unit(table: Path) -> Unit | None:
    """Find the unit that sizes of a list are taken in where neither they nor the heading name one.

    Returns
    -------
    None where every size names its unit.

    Raises
    ------
    PieceError
        As `from_list`, and where bare numbers may be centimetres or inches.
    """
    return _bare_unit(_listing(table))


_SIZES = ("width", "height")
_HEADING = re.compile(r"^(file|title|width|height)(?:[\s_]*[\[(]?\s*(mm|cm|m|in|ft)\.?\s*[\])]?)?$")
_SMALL = 150.0
"""Bare sizes that are all below this are no millimetres: no wall is hung with stamps. Ours."""


@dataclass(frozen=True, slots=True)
class _Listing:
    """A list's rows by column name with their line numbers, and what separates its cells."""

    name: str
    delimiter: str
    rows: tuple[tuple[int, dict[str, str]], ...]


def _listing(table: Path) -> _Listing:
    try:
        listed = read_table(decode_text(table.read_bytes()), MOST_LISTED)
    except OSError as error:
        raise PieceError(
            f"The list {table.name} cannot be read.", hint="Save it as CSV in UTF-8."
        ) from error
    except TableError as error:
        what = (
            f"The list {table.name}" if error.line is None else f"Line {error.line} of {table.name}"
        )
        raise PieceError(f"{what} is {error}.", hint="Save it as CSV in UTF-8.") from error
    columns: dict[str, tuple[int, str]] = {}
    for place, heading in enumerate(listed.header):
        if match := _HEADING.match(heading.strip().lower()):
            columns[match[1]] = (place, match[2] or "")
    if "file" not in columns:
        raise PieceError(
            f"The list {table.name} has no column named file.",
            hint="Start it with a line of column names: file, title, width, height.",
        )
    if len(listed.rows) > MOST_LISTED:
        raise PieceError(
            f"The list {table.name} names more than {MOST_LISTED} artworks.",
            hint="Split it, and keep a catalogue of each part.",
        )
    rows = []
    for line, row in listed.rows:
        cells = {}
        for name, (place, unit) in columns.items():
            cell = row[place].strip() if place < len(row) else ""
            cells[name] = f"{cell} {unit}" if unit and _is_bare(cell) else cell
        rows.append((line, cells))
    return _Listing(table.name, listed.delimiter, tuple(rows))


def _is_bare(cell: str) -> bool:
    """Whether a size is a number without a unit."""
    return re.fullmatch(r"\d[\d\s.,/]*", cell) is not None


def _bare_unit(listing: _Listing) -> Unit | None:
    """Choose the unit of sizes that name none: mm unless all are too small for that.

    A list with semicolons was written where the comma is decimal, and there people measure in
    centimetres; with commas small numbers may as well be inches.
    """
    bare = []
    for _, row in listing.rows:
        for name in _SIZES:
            if _is_bare(row.get(name, "")):
                try:
                    bare.append(parse_length(row[name], "mm"))
                except UnitError:
                    continue  # said with its line when it is read
    if not bare:
        return None
    if max(bare) >= _SMALL:
        return "mm"
    if listing.delimiter == ";":
        return "cm"
    raise PieceError(
        f"The sizes of {listing.name} do not say their unit, and are too small for millimetres.",
        hint="Name it in the heading, as in width (cm), or after each size, as in 40 cm.",
    )


def _size(row: dict[str, str], name: str, where: str, unit: Unit) -> float | None:
    """Size in mm; None where the list gives none."""
    written = row.get(name, "")
    if not written:
        return None
    try:
        size = parse_length(written, unit)
    except UnitError as error:
        raise PieceError(
            f"{where}: {name} {written!r} is no length.",
            hint="Write it like 400, 40 cm or 16 in.",
        ) from error
    if not 0 < size < 20_000:
        raise PieceError(
            f"{where}: {name} {written!r} is no size of a picture.",
            hint="Give a size above 0 and below 20 m.",
        )
    return size

"""Where candidate artworks come from: a folder of pictures, or a list with sizes."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from visualiser.errors import PieceError, UnitError
from visualiser.units import Unit, parse_length

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


def from_list(table: Path, unit: Unit = "mm") -> Iterator[Candidate]:
    """Artworks of a CSV file with the columns file, and title, width, height where known.

    Files are looked for beside the list. Sizes may be written as the trade does; without a unit
    they are in ``unit``.

    Raises
    ------
    PieceError
        If the list cannot be read, has no column ``file``, or a size makes no sense; the message
        names the line.
    """
    try:
        text = table.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise PieceError(
            f"The list {table.name} cannot be read.", hint="Save it as CSV in UTF-8."
        ) from error
    first = text.split("\n", 1)[0]
    rows = csv.DictReader(io.StringIO(text), delimiter=max(",;\t", key=first.count))
    columns = {(name or "").strip().lower(): name for name in rows.fieldnames or ()}
    if "file" not in columns:
        raise PieceError(
            f"The list {table.name} has no column named file.",
            hint="Start it with a line of column names: file, title, width, height.",
        )

    def cell(row: dict[str, str], name: str) -> str:
        return (row.get(columns[name]) or "").strip() if name in columns else ""

    seen: set[str] = set()
    for row in rows:
        file = cell(row, "file").replace("\\", "/")
        if not file or file in seen:
            continue
        seen.add(file)
        sizes = []
        for name in ("width", "height"):
            written = cell(row, name)
            try:
                size = parse_length(written, unit) if written else None
            except UnitError as error:
                raise PieceError(
                    f"Line {rows.line_num} of {table.name}: {name} {written!r} is no length.",
                    hint="Write it like 400, 40 cm or 16 in.",
                ) from error
            if size is not None and not 0 < size < 20_000:
                raise PieceError(
                    f"Line {rows.line_num} of {table.name}: {name} {written!r} is no size of a "
                    "picture.",
                    hint="Give a size above 0 and below 20 m.",
                )
            sizes.append(size)
        yield Candidate(file, table.parent / file, cell(row, "title"), *sizes)

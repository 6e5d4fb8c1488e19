"""The list a batch works through: one job a line, or a table of variants of jobs.

A plain list names one job's folder a line, relative to the list; ``#`` starts a remark. A table is
CSV with a header of two or more of these columns::

    job       folder of the job, relative to the list
    option    which of its options to make; the chosen one when empty, * for every one
    artwork   a picture, relative to the list, shown instead of the piece's own
    piece     which piece shows it; may be left out where only one hangs
    name      what the files made are called after; option and artwork when left out
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path

from visualiser.errors import ProjectError
from visualiser.project.paths import slug
from visualiser.project.store import open_project
from visualiser.table import TableError, read_header, read_table

MOST_ITEMS = 100_000
_COLUMNS = ("job", "option", "artwork", "piece", "name")
EVERY_OPTION = "*"


@dataclass(frozen=True, slots=True)
class BatchItem:
    """One arrangement of one job that products are to be made of.

    Parameters
    ----------
    job
        The job's folder.
    option
        Which option; empty for the chosen one.
    artwork, piece
        A picture to show in a piece instead of its own; ``piece`` empty where only one hangs.
    name
        What its files are called after; empty for the plain names.
    """

    job: Path
    option: str = ""
    artwork: Path | None = None
    piece: str = ""
    name: str = ""

    def file_name(self, plain: str) -> str:
        """Name of a file made of this item, such as ``heron-mockup.jpg``."""
        shown = self.artwork.stem if self.artwork else ""
        stem = self.name or "-".join(_word(part) for part in (self.option, shown) if part)
        return f"{stem}-{plain}" if stem else plain


def read_list(text: str, beside: Path) -> list[BatchItem]:
    """Read a batch's list.

    Parameters
    ----------
    text
        The list or table.
    beside
        Folder that relative paths start from.

    Raises
    ------
    ProjectError
        If the table cannot be read, or two lines would write the same files.
    """
    lines = [
        (n, line)
        for n, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1)
        if line.strip()
    ]
    header = [cell.strip().lower() for cell in read_header(text, remark="#")]
    is_table = len(header) > 1 and "job" in header
    items = _table(text, header, beside) if is_table else _plain(lines, beside)
    if len(items) > MOST_ITEMS:
        raise _unreadable(f"it has {len(items)} lines; at most {MOST_ITEMS} are worked through")
    return _without_clashes(items)


def expanded(items: list[BatchItem]) -> list[BatchItem]:
    """Put an item of every option in the place of ``*``; a job that cannot be opened stays."""
    result: list[BatchItem] = []
    for item in items:
        if item.option != EVERY_OPTION:
            result.append(item)
            continue
        try:
            options = open_project(item.job).document.options
        except ProjectError:
            result.append(replace(item, option=""))  # says what is wrong when its turn comes
            continue
        prefix = f"{item.name}-" if item.name else ""
        for option in options:
            name = f"{prefix}{_word(option.id)}" if prefix else ""
            result.append(replace(item, option=option.id, name=name))
    return _without_clashes(result)


def _plain(lines: list[tuple[int, str]], beside: Path) -> list[BatchItem]:
    folders = [line.split("#", 1)[0].strip() for _, line in lines]
    return [
        BatchItem(_folder(beside, folder, n))
        for (n, _), folder in zip(lines, folders, strict=True)
        if folder
    ]


def _table(text: str, header: list[str], beside: Path) -> list[BatchItem]:
    if unknown := [name for name in header if name not in _COLUMNS]:
        raise _unreadable(f"it has a column {unknown[0]!r}")
    if len(set(header)) != len(header):
        raise _unreadable("two of its columns have one name")
    try:
        table = read_table(text, MOST_ITEMS, remark="#")
    except TableError as error:
        raise _unreadable(f"line {error.line} is {error}") from error
    return [_item(dict(zip(header, row, strict=False)), line, beside) for line, row in table.rows]


def _item(cells: dict[str, str], line: int, beside: Path) -> BatchItem:
    cells = {name: cell.strip() for name, cell in cells.items()}
    if not cells.get("job"):
        raise _unreadable(f"line {line} names no job")
    artwork, name = cells.get("artwork"), cells.get("name", "")
    if name and slug(name) != name.lower():
        raise _unreadable(
            f"the name {name[:60]!r} in line {line} has other characters than letters, digits "
            "and hyphens"
        )
    return BatchItem(
        _folder(beside, cells["job"], line),
        cells.get("option", ""),
        _folder(beside, artwork, line) if artwork else None,
        cells.get("piece", ""),
        name,
    )


def _folder(beside: Path, text: str, line: int) -> Path:
    if "\0" in text:
        raise _unreadable(f"line {line} holds characters that cannot be shown")
    return beside / text


def _word(text: str) -> str:
    """Turn a text into part of a file's name; one in another script into digits of its own."""
    return slug(text) or hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:8]


def _without_clashes(items: list[BatchItem]) -> list[BatchItem]:
    """Drop repeated lines; refuse different ones that would write over each other's files."""
    kept: dict[tuple[str, str], BatchItem] = {}
    for item in items:
        key = (str(item.job), item.file_name("").casefold())
        if kept.setdefault(key, item) != item:
            raise ProjectError(
                f"Two lines of the list would write the same files in {item.job}.",
                hint="Give them different names in the column name.",
            )
    return list(kept.values())


def _unreadable(what: str) -> ProjectError:
    return ProjectError(
        f"The list cannot be worked through: {what}.",
        hint=f"Write one job's folder a line, or CSV with the columns {', '.join(_COLUMNS)}.",
    )

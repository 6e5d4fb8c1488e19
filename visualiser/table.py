"""Tables as spreadsheets write them: CSV by comma, semicolon or tab."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

DELIMITERS = ",;\t"


class TableError(ValueError):
    """What is wrong with a line of a table.

    Parameters
    ----------
    line
        Its number, from 1; None where the whole text is meant.
    """

    def __init__(self, what: str, line: int | None = None) -> None:
        super().__init__(what)
        self.line = line


@dataclass(frozen=True, slots=True)
class Table:
    """A header and the rows below it that hold anything.

    Parameters
    ----------
    header
        Cells of the first line.
    rows
        Line in the text at which each row begins, and its cells; as many as each row has.
    delimiter
        What stands between two cells.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    delimiter: str


def decode_text(data: bytes) -> str:
    """Decode a text file in UTF-8, in UTF-16 with its mark, or in Windows' western code page.

    Raises
    ------
    TableError
        If the bytes are a spreadsheet's own file, or no text.
    """
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise TableError("a spreadsheet's own file")
    marked = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    for encoding in ("utf-16",) if marked else ("utf-8-sig", "cp1252"):
        try:
            text = data.decode(encoding)
        except UnicodeError:
            continue
        if "\0" not in text:
            return text
    raise TableError("not text")


def read_table(text: str, most_rows: int, remark: str = "") -> Table:
    """Split CSV into its header and its filled rows.

    Parameters
    ----------
    text
        The table. Blank lines before the header, and the line ``sep=;`` that one spreadsheet puts
        first, are passed over.
    most_rows
        Reading stops after one row more than this, which is enough to know that there are too many.
    remark
        What a line begins with that is to be passed over, such as ``#``; nothing when empty.

    Returns
    -------
    The table; its delimiter is the one of comma, semicolon and tab that the header has most of.

    Raises
    ------
    TableError
        If nothing is there, or a line is not CSV.
    """
    lines, skipped, delimiter = _begun(text, remark)
    if not lines:
        raise TableError("empty")
    reader = csv.reader(io.StringIO("".join(lines), newline=""), delimiter=delimiter)
    rows: list[tuple[int, tuple[str, ...]]] = []
    try:
        header = tuple(next(reader))
        before = reader.line_num
        for row in reader:
            held = any(cell.strip() for cell in row)
            if held and not (remark and row[0].lstrip().startswith(remark)):
                rows.append((skipped + before + 1, tuple(row)))
            before = reader.line_num
            if len(rows) > most_rows:
                break
    except csv.Error as error:
        raise TableError("not CSV", skipped + reader.line_num) from error
    return Table(header, tuple(rows), delimiter)


def read_header(text: str, remark: str = "") -> tuple[str, ...]:
    """Split the first line that `read_table` would take for the header; nothing where none is."""
    lines, _, delimiter = _begun(text, remark)
    return tuple(lines[0].rstrip("\r\n").split(delimiter)) if lines else ()


def _begun(text: str, remark: str) -> tuple[list[str], int, str]:
    """Lines from the header on, how many stand above it, and the delimiter."""
    lines = text.removeprefix("\ufeff").splitlines(keepends=True)
    skipped = 0
    while skipped < len(lines) and _passed_over(lines[skipped], remark):
        skipped += 1
    lines = lines[skipped:]
    return lines, skipped, max(DELIMITERS, key=lines[0].count) if lines else ","


def _passed_over(line: str, remark: str) -> bool:
    blank = not line.strip(f" \r\n{DELIMITERS}")
    return blank or line.lower().startswith("sep=") or bool(remark and line.lstrip()[:1] == remark)

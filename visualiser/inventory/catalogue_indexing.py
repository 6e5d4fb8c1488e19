"""Read artworks into a catalogue, and go on where it stopped when it was cut off.

Each picture is stored as soon as it has been read, in small transactions. A picture is read again
only when its size or time has changed.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from visualiser.colour.extraction import DEFAULT_SETTINGS, extract_palette
from visualiser.errors import VisualiserError
from visualiser.inventory.catalogue_database import opened, pack_palette
from visualiser.inventory.catalogue_sources import Candidate
from visualiser.photo.decoding import load_reduced

_COMMIT_EVERY = 25
_COMMIT_SECONDS = 1.0

Progress = Callable[[int, int], None]
"""Called with how many files are done and how many there are."""


@dataclass(frozen=True, slots=True)
class IndexingReport:
    """What one indexing run did.

    Parameters
    ----------
    read, unchanged, removed
        Numbers of files.
    problems
        File and why it could not be read.
    """

    read: int
    unchanged: int
    removed: int
    problems: tuple[tuple[str, str], ...]


def index_catalogue(
    database: Path,
    candidates: Iterable[Candidate],
    progress: Progress | None = None,
    *,
    remove_missing: bool = True,
) -> IndexingReport:
    """Read new and changed artworks into the catalogue's file.

    Parameters
    ----------
    database
        The catalogue's file; made when it does not exist.
    candidates
        Artworks, as `catalogue_sources` finds them in a folder or a list.
    progress
        Told how far it is after every file.
    remove_missing
        Drop artworks that are no longer among the candidates.

    Returns
    -------
    What was done; files that could not be read are reported and skipped.

    Raises
    ------
    PieceError
        If the file is no catalogue, is a newer one, or cannot be written.
    """
    listed = list(candidates)
    read = unchanged = removed = 0
    problems: list[tuple[str, str]] = []
    with opened(database) as connection:
        known = {
            row[0]: row[1:]
            for row in connection.execute(
                "SELECT file, bytes, modified_ns, digest, title, width_mm, height_mm, problem "
                "FROM works"
            )
        }
        last_commit, pending = time.monotonic(), 0
        for done, candidate in enumerate(listed, start=1):
            kept = known.pop(candidate.file, None)
            row, fresh = _row(candidate, kept)
            if row is not None:
                connection.execute("INSERT OR REPLACE INTO works VALUES (?,?,?,?,?,?,?,?,?,?)", row)
                pending += 1
            elif kept is not None and kept[3:6] != candidate.details:
                connection.execute(
                    "UPDATE works SET title=?, width_mm=?, height_mm=? WHERE file=?",
                    (*candidate.details, candidate.file),
                )
                pending += 1
            read += fresh
            unchanged += not fresh
            problem = row[9] if row is not None else (kept[6] if kept else "")
            if problem:
                problems.append((candidate.file, str(problem)))
            if pending >= _COMMIT_EVERY or time.monotonic() - last_commit > _COMMIT_SECONDS:
                connection.commit()
                last_commit, pending = time.monotonic(), 0
            if progress is not None:
                progress(done, len(listed))
        if remove_missing and known:
            connection.executemany("DELETE FROM works WHERE file=?", [(f,) for f in known])
            removed = len(known)
        connection.commit()
    return IndexingReport(read, unchanged, removed, tuple(problems))


_Row = tuple[str, int, int, str, str, float | None, float | None, int, bytes | None, str]


def _row(candidate: Candidate, kept: tuple[object, ...] | None) -> tuple[_Row | None, bool]:
    """Work out what to store of a candidate, None if nothing, and whether it was read."""
    try:
        status = candidate.path.stat()
    except OSError as error:
        return (*_nothing(candidate, 0, 0), error.strerror or "it cannot be read"), False
    if kept is not None and kept[:2] == (status.st_size, status.st_mtime_ns):
        return None, False
    try:
        data = candidate.path.read_bytes()
        # Twice the size that colours are averaged down to: the averages stay averages.
        palette = extract_palette(load_reduced(data, 2 * DEFAULT_SETTINGS.side_px).pixels)
    except OSError as error:
        problem = error.strerror or "it cannot be read"
        return (*_nothing(candidate, status.st_size, status.st_mtime_ns), problem), True
    except VisualiserError as error:
        problem = error.message
        return (*_nothing(candidate, status.st_size, status.st_mtime_ns), problem), True
    digest = hashlib.sha256(data).hexdigest()
    title, width_mm, height_mm = candidate.details
    row: _Row = (
        candidate.file,
        status.st_size,
        status.st_mtime_ns,
        digest,
        title,
        width_mm,
        height_mm,
        int(palette.trusted),
        pack_palette(palette),
        "",
    )
    return row, True


def _nothing(
    candidate: Candidate, size: int, modified_ns: int
) -> tuple[str, int, int, str, str, float | None, float | None, int, None]:
    """All but the problem of a row for a picture that could not be read."""
    title, width_mm, height_mm = candidate.details
    return (candidate.file, size, modified_ns, "", title, width_mm, height_mm, 0, None)

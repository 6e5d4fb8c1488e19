"""The file a catalogue is kept in: an SQLite database, its tables and how palettes are packed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from visualiser.colour.palette import Palette
from visualiser.errors import PieceError

SCHEMA_VERSION = 1
MOST_SWATCHES = 8
_TABLES = """
CREATE TABLE IF NOT EXISTS about (key TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS works (
    file TEXT PRIMARY KEY,
    bytes INTEGER NOT NULL,
    modified_ns INTEGER NOT NULL,
    digest TEXT NOT NULL,
    title TEXT NOT NULL,
    width_mm REAL,
    height_mm REAL,
    trusted INTEGER NOT NULL,
    palette BLOB,
    problem TEXT NOT NULL
);
"""
_WRONG_TYPES = """
SELECT count(*) FROM works WHERE typeof(file) <> 'text' OR typeof(title) <> 'text'
    OR typeof(palette) NOT IN ('blob', 'null') OR typeof(problem) <> 'text'
    OR typeof(width_mm) NOT IN ('real', 'null') OR typeof(height_mm) NOT IN ('real', 'null')
    OR typeof(bytes) <> 'integer' OR typeof(modified_ns) <> 'integer'
"""


@contextmanager
def opened(database: Path) -> Iterator[sqlite3.Connection]:
    """Connect to a catalogue of this version, its tables made; closed afterwards."""
    connection = None
    try:
        connection = sqlite3.connect(database, timeout=10)
        connection.text_factory = lambda text: text.decode("utf-8", "replace")
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=NORMAL")
        tables = {r[0] for r in connection.execute("SELECT name FROM sqlite_master")}
        if tables and not {"about", "works"} <= tables:
            raise PieceError(
                f"{database.name} is a database, but no catalogue of artworks.",
                hint="Choose another file.",
            )
        connection.executescript(_TABLES)
        connection.execute(
            "INSERT OR IGNORE INTO about VALUES ('schema_version', ?)", (str(SCHEMA_VERSION),)
        )
        connection.commit()
        found = connection.execute("SELECT value FROM about WHERE key='schema_version'").fetchone()
        if found is None or not str(found[0]).isascii() or not str(found[0]).isdecimal():
            raise damaged()
        if int(found[0]) > SCHEMA_VERSION:
            raise PieceError(
                f"{database.name} was made by a newer version of this program.",
                hint="Update the program, or index again into another file.",
            )
        check_types(connection)
        yield connection
    except (sqlite3.Error, UnicodeDecodeError) as error:  # its messages quote the file
        raise PieceError(
            f"The catalogue {database.name} cannot be used: {error}.",
            hint="Close other programs that use it, or index again into another file.",
        ) from error
    finally:
        if connection is not None:
            connection.close()


def check_types(connection: sqlite3.Connection) -> None:
    """Refuse values of kinds that were never put in: the file has been damaged.

    Raises
    ------
    PieceError
        If there are any.
    """
    (wrong,) = connection.execute(_WRONG_TYPES).fetchone()
    if wrong:
        raise damaged()


def damaged() -> PieceError:
    """Say that a catalogue's file does not hold what was written to it."""
    return PieceError("The catalogue is damaged.", hint="Delete it and index again.")


def pack_palette(palette: Palette) -> bytes:
    """Palette as 8 times (L*, a*, b*, share), little-endian single precision."""
    packed = np.zeros((MOST_SWATCHES, 4), "<f4")
    count = min(len(palette.swatches), MOST_SWATCHES)
    packed[:count, :3], packed[:count, 3] = palette.lab[:count], palette.shares[:count]
    return packed.tobytes()


def unpack_palettes(packed: list[bytes]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """CIELAB (N, 8, 3) and shares (N, 8) of packed palettes.

    Raises
    ------
    PieceError
        If they are of another kind than this version packs.
    """
    values = np.frombuffer(b"".join(packed), "<f4")
    if values.size != len(packed) * MOST_SWATCHES * 4 or not np.isfinite(values).all():
        raise PieceError(
            "The catalogue holds palettes of another kind.", hint="Delete it and index again."
        )
    values = values.reshape(len(packed), MOST_SWATCHES, 4).astype(np.float64)
    least, most = values.min((0, 1), initial=0.0), values.max((0, 1), initial=0.0)
    if not ((least >= (-1, -200, -200, 0)) & (most <= (101, 200, 200, 1.001))).all():
        raise damaged()
    shares = values[:, :, 3]
    return values[:, :, :3], shares / np.maximum(shares.sum(1, keepdims=True), 1e-12)

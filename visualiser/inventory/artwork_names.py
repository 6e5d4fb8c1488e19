"""Read pieces from the names of their artworks' files: ``Heron at dusk 40x50.jpg``."""

from __future__ import annotations

import re
from collections.abc import Collection
from pathlib import PurePath

from visualiser.errors import PieceError, UnitError
from visualiser.inventory.piece import Piece
from visualiser.inventory.piece_list import ListedPiece
from visualiser.inventory.piece_table import free_id
from visualiser.units import Unit, parse_size

PICTURE_ENDINGS = (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif")
_SIZE = re.compile(
    r"""[\s_\-(,]*\b(?P<size>
        \d+(?:[.,]\d+|[ -]\d+/\d+)?\s*(?:mm|cm|m|in|ft|["″])?\s*(?:x|×|\bby\b)\s*
        \d+(?:[.,]\d+|[ -]\d+/\d+)?\s*(?:mm|cm|m|in|ft|["″])?
    )\)?\s*$""",
    re.VERBOSE | re.IGNORECASE,
)


def piece_of_name(file: str, unit: Unit = "cm", taken: Collection[str] = ()) -> ListedPiece:
    """Make a piece of what its artwork's file is called: a title, then its outside size.

    Parameters
    ----------
    file
        Name of the file.
    unit
        Of a size that names none; centimetres are the usual way to name such files (common
        practice, no source).
    taken
        Ids of the pieces there are.

    Raises
    ------
    PieceError
        If the name does not end in a width and a height.

    Examples
    --------
    >>> item = piece_of_name("Heron at dusk 40x50.jpg")
    >>> item.piece.name, item.piece.width_mm, item.piece.height_mm
    ('Heron at dusk', 400.0, 500.0)
    """
    return ListedPiece(titled_piece(PurePath(file).stem, unit, taken, file), file)


def titled_piece(
    words: str, unit: Unit = "cm", taken: Collection[str] = (), source: str = ""
) -> Piece:
    """Make a piece of a title and its outside size, such as ``Heron at dusk 40 x 50 cm``.

    Parameters
    ----------
    words
        Title, then size.
    unit, taken
        As in `piece_of_name`.
    source
        What an error names; the words themselves when empty.

    Raises
    ------
    PieceError
        If they do not end in a width and a height.
    """
    plain = words.replace("_", " ")
    match = _SIZE.search(plain)
    if match is None:
        raise PieceError(
            f"“{source or words}” does not say the piece's size.",
            hint="End it in width and height, as in 'heron 40x50', or list it in a CSV.",
        )
    try:
        width, height = parse_size(match["size"].strip(), unit)
    except UnitError as reason:
        raise PieceError(f"{source or words}: {reason.message}", hint=reason.hint) from reason
    name = plain[: match.start()].strip(" -,(")
    return Piece(free_id(name, taken), width, height, name)

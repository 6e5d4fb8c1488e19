"""Lists of pieces as text: what a framer's or a client's spreadsheet holds.

Pure text in and out; files and pictures belong to the caller. An artwork is listed by its file's
name.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

from visualiser.errors import PieceError
from visualiser.inventory.hanger import HANGERS
from visualiser.inventory.piece import ArtworkFit, Finish, Glazing, Piece, PieceKind, Profile

MOST_PIECES = 1000
CHOICES: dict[str, tuple[str, ...]] = {
    "finish": get_args(Finish),
    "profile": get_args(Profile),
    "glazing": get_args(Glazing),
    "hanger": tuple(HANGERS),
    "kind": get_args(PieceKind),
    "artwork fit": get_args(ArtworkFit),
}


@dataclass(frozen=True, slots=True)
class ListedPiece:
    """A piece of a list, and the name of its artwork's file; empty when it has none."""

    piece: Piece
    artwork_file: str = ""


def checked(listed: list[ListedPiece]) -> list[ListedPiece]:
    """Return a list unchanged when it is not too long and no two pieces share an id.

    Raises
    ------
    PieceError
        Else.
    """
    if len(listed) > MOST_PIECES:
        raise PieceError(
            f"The list holds more than {MOST_PIECES} pieces.",
            hint=f"Split it: {MOST_PIECES} at most.",
        )
    ids = [item.piece.id for item in listed]
    doubled = sorted({i for i in ids if ids.count(i) > 1})
    if doubled:
        raise PieceError(
            f"Two pieces of the list share the id {doubled[0]}.",
            hint="Give each piece an id of its own.",
        )
    return listed

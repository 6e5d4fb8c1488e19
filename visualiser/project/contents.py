"""From what is saved to what the main road works with."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations
from weakref import WeakValueDictionary

from visualiser.arrangement.arrangement import Arrangement
from visualiser.errors import ProjectError, VisualiserError
from visualiser.geometry import Rect
from visualiser.inventory.piece import Artwork, Piece
from visualiser.project.entries import FileEntry
from visualiser.project.piece_entries import OptionEntry

ReadFile = Callable[[str], bytes]
"""Content of a file of the job by its relative path; raises ProjectError where it is missing."""
_DECODED: WeakValueDictionary[tuple[str, str], Artwork] = WeakValueDictionary()
"""Artworks in use, by hash and name: the options of a job show the same ones."""


def checked_content(entry: FileEntry, read: ReadFile) -> bytes:
    """Content of a picture, found to be the one the job was made with.

    Raises
    ------
    ProjectError
        If it is missing or has been exchanged.
    """
    data = read(entry.path)
    if entry.sha256 and hashlib.sha256(data).hexdigest() != entry.sha256:
        raise ProjectError(
            f"{entry.path} is not the picture this job was made with.",
            hint="Put the original back, or add the new one as a new picture.",
        )
    return data


def artwork_from(entry: FileEntry, name: str, read: ReadFile) -> Artwork:
    """Decode the picture of a piece.

    Raises
    ------
    ProjectError
        If it is missing, has been exchanged or cannot be decoded.
    """
    from visualiser.photo.decoding import load_photo

    data = checked_content(entry, read)
    known = _DECODED.get((entry.sha256, name)) if entry.sha256 else None
    if known is not None:
        return known
    try:
        photo = load_photo(data)
    except VisualiserError as error:
        raise ProjectError(f"{entry.path}: {error.message}", hint=error.hint) from error
    artwork = Artwork(photo.pixels, name, photo.digest)
    if entry.sha256:
        _DECODED[entry.sha256, name] = artwork
    return artwork


def arrangement_from(option: OptionEntry, pieces: tuple[Piece, ...]) -> Arrangement:
    """Put the pieces where an option has them, in the option's finish; overlaps are kept."""
    if option.finish is not None:
        pieces = tuple(
            replace(p, moulding=replace(p.moulding, finish=option.finish, colour=""))
            if p.moulding
            else p
            for p in pieces
        )
    return Arrangement(pieces, option.placements, family=option.family, name=option.name)


def refuse_overlap(rects: dict[str, Rect]) -> None:
    """Refuse two pieces in one place, which can be drawn but not hung.

    Raises
    ------
    ProjectError
        Naming the first pair that overlaps.
    """
    for (one, rect), (other, other_rect) in combinations(rects.items(), 2):
        if rect.overlaps(other_rect):
            raise ProjectError(
                f"Pieces {one} and {other} overlap.",
                hint="Move one of them until both hang free.",
            )

"""Filling a job: its photo, its pieces with their artworks, and what is marked on the wall."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from visualiser.errors import PhotoError, PieceError, ProjectError
from visualiser.geometry import Polygon
from visualiser.inventory.piece import Artwork, Piece
from visualiser.inventory.piece_list import ListedPiece
from visualiser.inventory.piece_table import read_pieces
from visualiser.photo.decoding import load_photo
from visualiser.photo.limits import check_wall_size
from visualiser.project.document import (
    Document,
    FileEntry,
    FurnitureEntry,
    PieceEntry,
    ReferenceEntry,
    WallEntry,
    ZoneEntry,
)
from visualiser.project.wall_entries import (
    InFrontEntry,
    MarksEntry,
    PaintedOutEntry,
    WallTapEntry,
)
from visualiser.rectification.kinds import marker_side_mm
from visualiser.rectification.marks import DrawnLine, TapedLength
from visualiser.statistics import COVERAGE_95
from visualiser.survey.light_choice import LightChoice
from visualiser.survey.suggestions import Suggestion
from visualiser.survey.survey import Furniture, Zone
from visualiser.units import Unit

KeepFile = Callable[[str, str, bytes, str], FileEntry]
"""Keep a picture with the job: folder, name, content, ending."""
Mark = (
    Zone | Furniture | Suggestion | DrawnLine | TapedLength | LightChoice
    | InFrontEntry | PaintedOutEntry | WallTapEntry | ZoneEntry | FurnitureEntry
)  # fmt: skip
"""What can be marked on a wall."""
_SUFFIXES = {
    b"\xff\xd8\xff": ".jpg",
    b"\x89PNG": ".png",
    b"RIFF": ".webp",
    b"II*\0": ".tif",
    b"MM\0*": ".tif",
}


def picture_suffix(data: bytes) -> str:
    """Find the ending that suits a picture file's content."""
    return next((s for start, s in _SUFFIXES.items() if data.startswith(start)), ".heic")


def read_picture(source: bytes | str | Path, *, of_wall: bool = False) -> tuple[bytes, str]:
    """Read the content of a picture file, found to be one, and what it is called.

    Raises
    ------
    PhotoError
        If it cannot be read, is not a picture, or shows the wall in too few pixels to measure.
    """
    if isinstance(source, bytes):
        data, name = source, "picture"
    else:
        name = Path(source).name
        try:
            data = Path(source).read_bytes()
        except OSError as error:
            reason = (error.strerror or "it cannot be read").lower()
            raise PhotoError(
                f"{source} could not be opened: {reason}.",
                hint="Check the name and that you may read the file.",
            ) from error
    try:
        photo = load_photo(data)
        if of_wall:
            check_wall_size(photo.width_px, photo.height_px)
    except PhotoError as error:
        raise PhotoError(f"{name}: {error.message}", hint=error.hint) from error
    return data, name


def read_list(source: str | Path, unit: Unit) -> tuple[ListedPiece, ...]:
    """Read a list of pieces from a file.

    Raises
    ------
    PieceError
        If it cannot be read; names each line.
    """
    try:
        data = Path(source).read_bytes()
    except OSError as error:
        reason = (error.strerror or "it cannot be read").lower()
        raise PieceError(
            f"{source} could not be opened: {reason}.",
            hint="Check the name and that you may read the file.",
        ) from error
    return read_pieces(data, unit).listed


def with_photo(document: Document, keep: KeepFile, source: bytes | str | Path) -> Document:
    """Job with another photo of the wall; marks that lie in the photo before it are dropped."""
    data, name = read_picture(source, of_wall=True)
    entry = keep("photos", name, data, picture_suffix(data))
    if document.photo is not None and document.photo.sha256 != entry.sha256:
        old = document.marks
        reference = old.reference.model_copy(update={"corners_px": None, "as_set": False})
        kept: dict[str, Any] = {
            "zones": tuple(z for z in old.zones if z.points_mm),
            "furniture": tuple(f for f in old.furniture if f.points_mm),
        }
        document = document.changed(
            marks=MarksEntry(
                reference=reference,
                reference_height_mm=old.reference_height_mm,
                find_lines=old.find_lines,
                light=old.light,
                lens=old.lens,
                **kept,
            )
        )
    return document.changed(photo=entry)


def with_pieces(
    document: Document,
    keep: KeepFile,
    pieces: Iterable[Piece | ListedPiece],
    artworks: str | Path | None = None,
    *,
    replace: bool = False,
) -> Document:
    """Job with further pieces, or with those of the same ids replaced.

    Artworks' files are all read before any is kept.
    """
    items = [p if isinstance(p, ListedPiece) else ListedPiece(p) for p in pieces]
    known = {entry.id for entry in document.pieces}
    if not replace and (twice := [i.piece.id for i in items if i.piece.id in known]):
        raise PieceError(
            f"The job has a piece {twice[0]} already.",
            hint="Give it another id, or say that it replaces the one there.",
        )
    contents = [_artwork_of(item, artworks) for item in items]
    entries = {}
    there_already = {e.artwork.sha256: e.artwork for e in document.pieces if e.artwork}
    for item, content in zip(items, contents, strict=True):
        kept: FileEntry | None = None
        if content is not None:
            name, data = content
            kept = there_already.get(hashlib.sha256(data).hexdigest())
            kept = kept or keep("artworks", name, data, picture_suffix(data))
        elif item.piece.id in known:
            kept = next(e.artwork for e in document.pieces if e.id == item.piece.id)
        entries[item.piece.id] = PieceEntry.from_piece(item.piece, kept)
    there = tuple(entries.pop(e.id, e) for e in document.pieces)
    return document.changed(pieces=(*there, *entries.values()))


def _artwork_of(item: ListedPiece, folder: str | Path | None) -> tuple[str, bytes] | None:
    """Name and content of a piece's artwork: its file, or its pixels as a PNG."""
    if item.artwork_file:
        place = Path(folder or ".") / item.artwork_file
        try:
            data, name = read_picture(place)
        except PhotoError as error:
            raise PieceError(
                f"The artwork of {item.piece.called}: {error.message}", hint=error.hint
            ) from error
        return name, data
    artwork = item.piece.artwork
    return None if artwork is None else (artwork.name or item.piece.id, _png(artwork))


def _png(artwork: Artwork) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(artwork.pixels)).save(buffer, "PNG")
    return buffer.getvalue()


def with_marks(document: Document, marks: Sequence[Mark], values: dict[str, Any]) -> Document:
    """Job with further marks, and with values set.

    Parameters
    ----------
    document
        The job.
    marks
        Zones, furniture, suggestions, lines, taped lengths, a light, outlines in the photo.
    values
        ``reference`` (a kind such as ``a4``, or width and height in mm, with the half-width of
        their 95 % range as a third), ``corners_px``, or any field of `MarksEntry` or `WallEntry`
        (there ``wall`` is its ``kind``).
    """
    entry, added = document.marks, _sorted_marks(marks)
    changed: dict[str, Any] = {
        name: (*getattr(entry, name), *items) for name, items in added.items() if items
    }
    if lights := [mark for mark in marks if isinstance(mark, LightChoice)]:
        changed["light"] = lights[-1]
    values = dict(values)
    reference = _reference(entry.reference, values.pop("reference", None), values)
    wall = {"kind" if n == "wall" else n: values.pop(n) for n in list(values) if n in _WALL_NAMES}
    if unknown := sorted(set(values) - set(MarksEntry.model_fields)):
        raise ProjectError(
            f"Nothing called {unknown[0]} can be marked on a wall.",
            hint=f"Known are {', '.join(sorted((*MarksEntry.model_fields, *_WALL_NAMES)))}.",
        )
    content = {**dict(entry), **changed, **values, "reference": reference}
    return document.changed(marks=content, wall={**dict(document.wall), **wall})


_WALL_NAMES = {"wall", *WallEntry.model_fields} - {"kind"}


def _reference(old: ReferenceEntry, wanted: Any, values: dict[str, Any]) -> Any:
    content = dict(old)
    if isinstance(wanted, ReferenceEntry):
        content = dict(wanted)
    elif isinstance(wanted, str):
        side_mm = marker_side_mm(wanted)
        of = {"kind": wanted} if side_mm is None else {"kind": "marker", "width_mm": side_mm}
        content = {**of, "corners_px": old.corners_px, "as_set": old.as_set}
    elif wanted is not None:
        width, height, *doubt = wanted
        sigma_mm = doubt[0] / COVERAGE_95 if doubt else None
        content |= {
            "kind": "custom", "width_mm": width, "height_mm": height, "size_sigma_mm": sigma_mm,
        }  # fmt: skip
    if "as_set" in values:
        content["as_set"] = values.pop("as_set")
    if "corners_px" in values:
        content["corners_px"] = _points(values.pop("corners_px"))
    return content


def _points(points: Any) -> Any:
    return None if points is None else tuple((float(x), float(y)) for x, y in points)


def _sorted_marks(marks: Sequence[Mark]) -> dict[str, list[Any]]:
    """Entries of marks, by the field that holds them."""
    found: dict[str, list[Any]] = {
        name: []
        for name in ("zones", "furniture", "lines", "taped", "in_front", "painted_out", "wall_taps")
    }
    for mark in marks:
        what = mark.what if isinstance(mark, Suggestion) else mark
        match what:
            case Zone():
                points = tuple(what.polygon)
                found["zones"].append(ZoneEntry(kind=what.kind, name=what.name, points_mm=points))
            case Furniture():
                points = tuple(Polygon.from_rect(what.rect))
                found["furniture"].append(
                    FurnitureEntry(kind=what.kind, name=what.name, points_mm=points)
                )
            case ZoneEntry():
                found["zones"].append(what)
            case FurnitureEntry():
                found["furniture"].append(what)
            case DrawnLine():
                found["lines"].append(what)
            case TapedLength():
                found["taped"].append(what)
            case InFrontEntry():
                found["in_front"].append(what)
            case PaintedOutEntry():
                found["painted_out"].append(what)
            case WallTapEntry():
                found["wall_taps"].append(what)
            case LightChoice():
                pass
            case _:
                raise TypeError(f"a {type(what).__name__} cannot be marked on a wall")
    return found

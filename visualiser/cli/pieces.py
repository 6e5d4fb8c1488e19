"""``visualiser pieces``: a job's pieces: listed, added from a list or singly, changed, removed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from visualiser.cli.lengths import both
from visualiser.cli.output import AsJson, print_json, read_file, say
from visualiser.errors import PieceError

if TYPE_CHECKING:
    from visualiser.inventory.piece_list import ListedPiece
    from visualiser.project.document import Document, PieceEntry
    from visualiser.units import Unit


def pieces(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    listing: Annotated[
        Path | None,
        typer.Option(
            "--from", metavar="LIST", help="Add the pieces of a CSV or JSON file; ids replace."
        ),
    ] = None,
    artworks: Annotated[
        Path | None,
        typer.Option(
            help="Folder of the artworks' files. Without --from, each file named by title and "
            "size, such as “heron 40x50.jpg”, is a piece."
        ),
    ] = None,
    add: Annotated[
        list[str] | None,
        typer.Option(
            metavar="TITLE SIZE", help="Add one piece: “Heron 40 x 50 cm”; may be given again."
        ),
    ] = None,
    change: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ID COLUMN=VALUE",
            help="Change a piece by a column of the list: “heron weight kg=3.2”; again for more.",
        ),
    ] = None,
    remove: Annotated[
        list[str] | None,
        typer.Option(metavar="ID", help="Remove a piece, from every option, too."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Write the list to this file: .csv or .json.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file of that name.")] = False,
    as_json: AsJson = False,
) -> None:
    """List a job's pieces; add, change or remove some."""
    import visualiser as vis
    from visualiser.cli.output import target_of

    place = target_of(out, (".csv", ".json"), force=force, as_json=as_json) if out else None
    job = vis.open_project(project)
    units = job.document.units
    ignored: tuple[str, ...] = ()
    if listing is not None or artworks is not None:
        listed, ignored, folder = listed_pieces(listing, artworks, units)
        job = job.add_pieces(listed, folder, replace=True)
    if add:
        taken = [entry.id for entry in job.document.pieces]
        new = []
        for words in add:
            new.append(_typed(words, units, taken))
            taken.append(new[-1].piece.id)
        job = job.add_pieces(new)
    if change:
        job = job.save(_changed(job.document, change))
    if remove:
        job = job.save(_without(job.document, remove))
    entries = job.document.pieces
    if place is not None:
        place.write(_written(entries, place.ending))
    if as_json:
        print_json(
            {"done": True, "pieces": [_data(entry) for entry in entries], "ignored": list(ignored)}
        )
        return
    if ignored:
        say(f"Columns not read: {', '.join(ignored)}.", as_json=False)
    for entry in entries:
        say(_sentence(entry, units), as_json=bool(place and place.piped))
    count = f"{len(entries)} piece{'' if len(entries) == 1 else 's'}"
    say(f"{count}; sizes are outside sizes of what hangs.", as_json=bool(place and place.piped))


def listed_pieces(
    listing: Path | None, artworks: Path | None, units: Unit
) -> tuple[list[ListedPiece], tuple[str, ...], Path]:
    """Pieces of a list, of a folder of artworks, or of both; columns not read; where artworks are.

    Raises
    ------
    VisualiserError
        If a row, a file or the folder cannot be read.
    """
    from visualiser.inventory.artwork_names import PICTURE_ENDINGS, piece_of_name
    from visualiser.inventory.piece_table import read_pieces

    files: list[str] = []
    if artworks is not None:
        if not artworks.is_dir():
            raise PieceError(
                f"There is no folder {artworks}.", hint="Name the folder of the artworks' files."
            )
        files = sorted(p.name for p in artworks.iterdir() if p.suffix.lower() in PICTURE_ENDINGS)
    if listing is not None:
        table = read_pieces(read_file(listing), units)
        found = [_with_artwork(item, files) for item in table.listed]
        return found, table.ignored, artworks or listing.parent
    assert artworks is not None
    if not files:
        raise PieceError(
            f"There is no picture in {artworks}.",
            hint=f"Artworks end in {', '.join(PICTURE_ENDINGS)}.",
        )
    made: list[ListedPiece] = []
    for file in files:
        named_in: Unit = "in" if units == "in" else "cm"
        made.append(piece_of_name(file, named_in, [item.piece.id for item in made]))
    return made, (), artworks


def _with_artwork(item: ListedPiece, files: list[str]) -> ListedPiece:
    """Piece with the file that is called like it, where the list names none."""
    if item.artwork_file:
        return item
    called = {item.piece.id.casefold(), item.piece.name.strip().casefold()} - {""}
    same = [file for file in files if Path(file).stem.casefold() in called]
    return replace(item, artwork_file=same[0]) if len(same) == 1 else item


def _typed(words: str, units: Unit, taken: list[str]) -> ListedPiece:
    from visualiser.inventory.artwork_names import titled_piece
    from visualiser.inventory.piece_list import ListedPiece

    return ListedPiece(titled_piece(words, units, taken))


def _changed(document: Document, changes: list[str]) -> Document:
    """Job with pieces changed by columns of a list, read as a list is."""
    from visualiser.inventory.piece_csv import COLUMNS, listed_piece, piece_cells
    from visualiser.inventory.piece_table import LENGTH_COLUMNS
    from visualiser.project.document import PieceEntry
    from visualiser.units import parse_length

    entries = {entry.id: entry for entry in document.pieces}
    for words in changes:
        left, sign, value = words.partition("=")
        piece_id = next(
            (i for i in sorted(entries, key=len, reverse=True) if left.startswith(f"{i} ")), None
        )
        if not sign or piece_id is None:
            raise PieceError(
                f"“{words}” does not change a piece of this job.",
                hint=f"Write a piece, a column and its value: “{next(iter(entries), 'heron')} "
                "weight kg=3.2”.",
            )
        column = left[len(piece_id) + 1 :].strip().lower().replace("_", " ")
        changeable = [name for name in COLUMNS if name not in ("id", "artwork")]
        if column not in changeable:
            raise PieceError(
                f"A piece has nothing called “{column}”.",
                hint=f"Change one of {', '.join(changeable)}.",
            )
        entry = entries[piece_id]
        if column in LENGTH_COLUMNS and value.strip().lower() not in ("", "none", "no"):
            value = repr(parse_length(value, document.units))
        cells = piece_cells(entry.piece()) | {column: value.strip()}
        cells = {name: cell for name, cell in cells.items() if cell}
        piece = listed_piece(cells, f"Piece {piece_id}", "mm").piece
        entries[piece_id] = PieceEntry.from_piece(_keeping(entry, piece), entry.artwork)
    return document.changed(pieces=tuple(entries.values()))


def _keeping(entry: PieceEntry, piece: Any) -> Any:
    """Piece with what no column holds left as it was."""
    hanger = replace(
        piece.hanger,
        **{
            name: getattr(entry.hanger, name)
            for name in ("wire_length_mm", "attachment_drop_mm", "hook_spacing_mm")
        },
    )
    return replace(piece, hanger=hanger, weight_sigma_kg=entry.weight_sigma_kg)


def _without(document: Document, ids: list[str]) -> Document:
    known = {entry.id for entry in document.pieces}
    if unknown := [i for i in ids if i not in known]:
        raise PieceError(
            f"The job has no piece {unknown[0]}.",
            hint=f"Its pieces are {', '.join(sorted(known)) or 'none'}.",
        )
    options = tuple(
        option.model_copy(
            update={"placements": tuple(p for p in option.placements if p.piece_id not in ids)}
        )
        for option in document.options
    )
    kept = tuple(entry for entry in document.pieces if entry.id not in ids)
    return document.changed(pieces=kept, options=options)


def _written(entries: tuple[PieceEntry, ...], ending: str) -> bytes:
    from visualiser.inventory.piece_json import pieces_to_json
    from visualiser.inventory.piece_list import ListedPiece
    from visualiser.inventory.piece_table import write_table

    listed = [
        ListedPiece(entry.piece(), entry.artwork.path if entry.artwork else "") for entry in entries
    ]
    text = pieces_to_json(listed) if ending == ".json" else write_table(listed)
    return text.encode()


def _sentence(entry: PieceEntry, units: Unit) -> str:
    size = f"{both(entry.width_mm, units)} x {both(entry.height_mm, units)}"
    frame = f"{entry.moulding.finish} frame" if entry.moulding else "no frame"
    weight = f"{entry.weight_kg:g} kg" if entry.weight_kg else "weight estimated"
    art = "" if entry.artwork else ", no artwork"
    return f"{entry.id}  {entry.name or '–'}: {size}, {frame}, {weight}{art}"


def _data(entry: PieceEntry) -> dict[str, Any]:
    return {
        "id": entry.id,
        "name": entry.name,
        "width_mm": entry.width_mm,
        "height_mm": entry.height_mm,
        "artwork": entry.artwork.path if entry.artwork else None,
        "weight_kg": entry.weight_kg,
    }

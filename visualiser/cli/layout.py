"""``visualiser layout``: pieces laid on a floor, or hung on a wall, read off a photo."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from visualiser.cli.output import (
    AsJson,
    Force,
    encode_picture,
    fail,
    finding_data,
    print_json,
    read_file,
    say,
    say_findings,
    target_of,
    working,
)
from visualiser.errors import VisualiserError

if TYPE_CHECKING:
    from visualiser.laid_out.layout import LaidPiece, Layout


class Surface(StrEnum):
    """What the pieces lie or hang on."""

    floor = "floor"
    wall = "wall"


def layout(
    photo: Annotated[
        Path, typer.Argument(help="Photograph of the pieces, the reference beside them.")
    ],
    reference: Annotated[
        str,
        typer.Option(
            metavar="KIND", help="What of known size lies beside them: a4, letter, …, or target."
        ),
    ] = "a4",
    on: Annotated[Surface, typer.Option(help="Where the pieces are.")] = Surface.floor,
    depth: Annotated[
        str,
        typer.Option(
            metavar="LENGTH",
            help="How far the frames' fronts stand off, such as “22 mm”; estimated else.",
        ),
    ] = "",
    into: Annotated[
        Path | None,
        typer.Option(
            metavar="JOB", help="Add the pieces to this job, and the layout as an option."
        ),
    ] = None,
    leave_out: Annotated[
        str, typer.Option(metavar="IDS", help="Pieces not to be added, such as “p2,p5”.")
    ] = "",
    even: Annotated[
        bool, typer.Option("--even", help="Even the gaps by the job's rules; kept as laid else.")
    ] = False,
    out: Annotated[
        Path | None, typer.Option(help="Picture to write: the photo with the pieces numbered.")
    ] = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Read framed pieces laid on a floor off one photo: sizes, pictures and their layout."""
    import visualiser as vis
    from visualiser.units import parse_length

    place = None if out is None else target_of(out, (".jpg", ".png"), force=force, as_json=as_json)
    try:
        depth_mm = parse_length(depth, "mm") if depth else None
        with working("Looking for the pieces …"):
            picture = vis.load_photo(read_file(photo))
            candidates = vis.find_references(picture, reference)
            found = vis.read_layout(picture, candidates, surface=on.value, depth_mm=depth_mm)
    except VisualiserError as error:
        fail(error, as_json=as_json, extra={"found": False})
        return
    unwanted = {name.strip() for name in leave_out.split(",") if name.strip()}
    letter, ids = _add(found, into, unwanted, even=even) if into is not None else ("", {})
    if place is not None:
        from visualiser.rendering.numbered import draw_numbers

        labels = [(piece.id, piece.corners_px) for piece in found.pieces]
        place.write(encode_picture(draw_numbers(picture.pixels, labels), place.ending))
    if as_json:
        print_json(
            {
                "found": True,
                "pieces": [_piece_data(piece) for piece in found.pieces],
                "job": None if into is None else {"option": letter, "pieces": ids},
                "file": None if place is None else str(place),
                "findings": finding_data(found.findings),
            }
        )
        return
    for piece in found.pieces:
        say(_sentence(piece), as_json=False)
    if into is not None:
        say(f"Added {len(ids)} pieces and their layout, option {letter}.", as_json=False)
    if place is not None:
        say(f"  {place}", as_json=False)
    say_findings(found.findings, as_json=False)


def _add(
    found: Layout, folder: Path, unwanted: set[str], *, even: bool
) -> tuple[str, dict[str, str]]:
    """Add pieces and layout to a job: the option's letter, and the id each piece has there."""
    import visualiser as vis
    from visualiser.project.laid import add_layout

    kept = [piece.id for piece in found.pieces if piece.id not in unwanted]
    with working("Adding them to the job …"):
        _, letter, ids = add_layout(vis.open_project(folder), found, kept, even_gaps=even)
    return letter, ids


def _sentence(piece: LaidPiece) -> str:
    wide, high = piece.size_half_width_mm
    mat = f", mat {piece.mat_mm[1]:.0f} mm" if min(piece.mat_mm) > 0 else ""
    rail = f"moulding {piece.rail_mm:.0f} mm" if piece.rail_mm > 0 else "no frame seen"
    return (
        f"{piece.id}: {piece.width_mm:.0f} ± {wide:.0f} x {piece.height_mm:.0f} ± {high:.0f} mm, "
        f"{piece.depth_mm:.0f} mm deep, {rail}{mat}"
    )


def _piece_data(piece: LaidPiece) -> dict[str, Any]:
    wide, high = piece.size_half_width_mm
    across, up = piece.place_half_width_mm
    return {
        "id": piece.id,
        "width_mm": round(piece.width_mm, 2),
        "height_mm": round(piece.height_mm, 2),
        "depth_mm": round(piece.depth_mm, 1),
        "x_mm": round(piece.x_mm, 2),
        "y_mm": round(piece.y_mm, 2),
        "tilt_deg": round(piece.tilt_deg, 3),
        "half_width_95": {
            "width_mm": round(wide, 2),
            "height_mm": round(high, 2),
            "x_mm": round(across, 2),
            "y_mm": round(up, 2),
        },
        "moulding_mm": round(piece.rail_mm, 1),
        "mat_mm": [round(v, 1) for v in piece.mat_mm],
        "colour": piece.colour,
        "corners_px": [[round(float(v), 2) for v in corner] for corner in piece.corners_px],
        "confidence": round(piece.confidence, 3),
    }

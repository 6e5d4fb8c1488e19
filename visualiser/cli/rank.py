"""``visualiser rank``: which artworks of a catalogue suit a job's pieces, a slot, and the room."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from visualiser.cli.colour_data import judgement_data, palette_data, room_data
from visualiser.cli.output import AsJson, finding_data, print_json, say, say_findings, working
from visualiser.errors import ColourError, ProjectError, VisualiserError
from visualiser.findings import Finding
from visualiser.units import Unit, format_length

if TYPE_CHECKING:
    from visualiser.colour.palette import Palette
    from visualiser.inventory.catalogue import Suggestion
    from visualiser.inventory.catalogue_indexing import IndexingReport
    from visualiser.project.store import Project
    from visualiser.survey.room_colours import RoomColours


def rank(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    catalogue: Annotated[
        Path,
        typer.Argument(
            help="Folder of pictures, CSV list of them (file, title, width, height), or the "
            "catalogue file (.sqlite) made of either."
        ),
    ],
    slot: Annotated[
        str | None, typer.Option(metavar="ID", help="Piece to be replaced; the others stay.")
    ] = None,
    count: Annotated[int, typer.Option(min=1, max=500, help="How many artworks to show.")] = 20,
    min_width: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH", help="Least width of an artwork, such as “40 cm” or “16 in”."
        ),
    ] = None,
    max_width: Annotated[str | None, typer.Option(metavar="LENGTH", help="Greatest width.")] = None,
    min_height: Annotated[str | None, typer.Option(metavar="LENGTH", help="Least height.")] = None,
    max_height: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Greatest height.")
    ] = None,
    unit: Annotated[
        Unit | None, typer.Option(help="Unit of a list's sizes that name none.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Rank a catalogue's artworks for a job: shared colours, the room and the wall."""
    import visualiser as vis
    from visualiser.inventory.catalogue import open_catalogue

    job = vis.open_project(project)
    width, height = _span(min_width, max_width), _span(min_height, max_height)
    with working("Reading the job's colours …"):
        pieces = _piece_palettes(job, slot)
        room, findings = _room(job)
    if not pieces and room is None:
        raise ColourError(
            "The job has neither artworks nor a photo to rank against.",
            hint="Add the artwork of a piece, or a photo of the wall.",
        )
    database, report, told = _indexed(catalogue, unit)
    findings += told
    works = open_catalogue(database)
    found = works.suggest(
        list(pieces.values()),
        room.palette if room else None,
        room.wall.lab if room else None,
        count=count,
        width_mm=width,
        height_mm=height,
    )
    if not found:
        findings.append(
            Finding(
                "advice",
                "No artwork of the catalogue is of that size.",
                "Widen the sizes, or list the artworks' sizes in a CSV file.",
                "rank-none",
            )
        )
    if as_json:
        print_json(_data(slot, pieces, room, found, len(works), report, findings))
    else:
        _say(found, len(works), report, findings, job.document.units)


def _span(least: str | None, most: str | None) -> tuple[float, float] | None:
    """Sizes in mm from what was typed; None where neither end was."""
    from visualiser.units import parse_length

    if least is None and most is None:
        return None
    low = parse_length(least, "mm") if least else 0.0
    return low, parse_length(most, "mm") if most else float("inf")


def _piece_palettes(job: Project, slot: str | None) -> dict[str, Palette]:
    """Palettes by piece of those that have an artwork, without the slot's."""
    from visualiser.colour.extraction import extract_palette

    pieces = job.pieces()
    if slot is not None and slot not in {p.id for p in pieces}:
        raise ProjectError(
            f"The job has no piece {slot!r}.",
            hint=f"Its pieces are {', '.join(p.id for p in pieces) or 'none'}.",
        )
    return {
        p.id: extract_palette(p.artwork.pixels)
        for p in pieces
        if p.artwork is not None and p.id != slot
    }


def _room(job: Project) -> tuple[RoomColours | None, list[Finding]]:
    """Room's colours where the job has a photo that can be measured, else why not."""
    from visualiser.survey.room_colours import room_colours

    if job.document.photo is None:
        return None, []
    try:
        room = room_colours(job.photo(), job.survey())
    except VisualiserError as error:
        text = f"The room's colours are left out: {error.message[0].lower()}{error.message[1:]}"
        return None, [Finding("advice", text, error.hint, "rank-no-room")]
    return room, list(room.findings)


def _indexed(
    catalogue: Path, unit: Unit | None
) -> tuple[Path, IndexingReport | None, list[Finding]]:
    """File of the catalogue; a folder or list is indexed first, only what has changed."""
    from rich.console import Console
    from rich.progress import Progress

    from visualiser.inventory.catalogue_indexing import index_catalogue
    from visualiser.inventory.catalogue_place import cache_folder, index_place
    from visualiser.inventory.catalogue_sources import assumed_unit, from_folder, from_list

    told: list[Finding] = []
    if catalogue.is_dir():
        candidates = from_folder(catalogue)
    elif catalogue.suffix.lower() in {".csv", ".tsv", ".txt"}:
        if unit is None and assumed_unit(catalogue) == "cm":
            told.append(
                Finding(
                    "note",
                    "Sizes of the list that name no unit are taken as centimetres.",
                    "Name the unit in the heading, as in width (mm), if they are something else.",
                    "rank-unit-assumed",
                )
            )
        candidates = from_list(catalogue, unit)
    else:
        return catalogue, None, told
    database = index_place(catalogue, cache_folder())
    try:
        database.parent.mkdir(parents=True, exist_ok=True)
    except OSError:  # no home, or one that may not be written: as good as none
        database = index_place(catalogue, Path(tempfile.gettempdir()))
        database.parent.mkdir(parents=True, exist_ok=True)
    console = Console(stderr=True)
    with Progress(console=console, disable=not console.is_terminal, transient=True) as bar:
        task = bar.add_task("Indexing", total=None)
        report = index_catalogue(
            database,
            candidates,
            lambda done, total: bar.update(task, completed=done, total=total),
        )
    return database, report, told


def _data(
    slot: str | None,
    pieces: dict[str, Palette],
    room: RoomColours | None,
    found: list[Suggestion],
    size: int,
    report: IndexingReport | None,
    findings: list[Finding],
) -> dict[str, Any]:
    return {
        "done": True,
        "slot": slot,
        "pieces": list(pieces),
        "room": None if room is None else room_data(room),
        "catalogue": {
            "works": size,
            "read": report.read if report else 0,
            "unchanged": report.unchanged if report else size,
            "problems": [{"file": f, "why": w} for f, w in report.problems] if report else [],
        },
        "ranking": [
            {
                "place": place,
                "file": s.work.file,
                "title": s.work.title,
                "width_mm": s.work.width_mm,
                "height_mm": s.work.height_mm,
                "score": round(s.ranked.score, 2),
                "parts": {name: round(value, 4) for name, value in s.ranked.parts},
                "sentence": s.ranked.sentence,
                "judgements": [judgement_data(j) for j in s.ranked.judgements],
                "palette": palette_data(s.work.palette)["swatches"],
            }
            for place, s in enumerate(found, start=1)
        ],
        "findings": finding_data(tuple(findings)),
    }


def _say(
    found: list[Suggestion],
    size: int,
    report: IndexingReport | None,
    findings: list[Finding],
    units: Unit,
) -> None:
    if report is not None:
        say(f"Catalogue: {size} artworks, {report.read} read just now.", as_json=False)
        for file, why in report.problems:
            say(f"  - {file} is left out: {why}", as_json=False)
    for place, s in enumerate(found, start=1):
        dimensions = ""
        if s.work.width_mm is not None and s.work.height_mm is not None:
            width = format_length(s.work.width_mm, units).removesuffix(f" {units}")
            dimensions = f", {width} × {format_length(s.work.height_mm, units)}"
        say(f"{place:3d}. {s.ranked.score:3.0f}  {s.work.title}{dimensions}", as_json=False)
        say(f"          {s.ranked.sentence}", as_json=False)
    say_findings(tuple(findings), as_json=False, units=units)

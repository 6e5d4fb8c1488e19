"""``visualiser check``: compare what hangs with the plan, from one more photo."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated

import typer

from visualiser.cli.output import (
    AsJson,
    Force,
    encode_picture,
    finding_data,
    print_json,
    read_file,
    say,
    say_findings,
    target_of,
    working,
)


def check(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    photo: Annotated[Path, typer.Argument(help="Photograph of the hung group.")],
    reference: Annotated[
        str,
        typer.Option(
            metavar="KIND",
            help="What of known size is taped beside the group: a4, letter, …, or none to measure "
            "by the frames alone, roughly. Common kinds are looked for when left out.",
        ),
    ] = "",
    option: Annotated[
        str, typer.Option(metavar="ID", help="Option that was hung; the chosen one when left out.")
    ] = "",
    picture: Annotated[
        Path | None,
        typer.Option(
            help="Picture to write, .jpg or .png: the photo with what is off drawn enlarged."
        ),
    ] = None,
    page: Annotated[Path | None, typer.Option(help="PDF page of the check to write.")] = None,
    level_deg: Annotated[
        float, typer.Option(help="How far off level a piece may hang, in degrees.", min=0.01)
    ] = 0.3,
    gap_mm: Annotated[
        float,
        typer.Option(help="How far off its place in the group a piece may hang, in mm.", min=0.1),
    ] = 3.0,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Say what to nudge: how far each hung piece is off its place and off level."""
    import visualiser as vis
    from visualiser.as_hung.judge import Tolerances
    from visualiser.printing.as_hung_page import as_hung_pdf
    from visualiser.printing.as_hung_picture import deviation_picture

    drawing = (
        target_of(picture, (".jpg", ".png"), force=force, as_json=as_json) if picture else None
    )
    paper = target_of(page, (".pdf",), force=force, as_json=as_json) if page else None
    if drawing is not None and paper is not None and drawing.piped and paper.piped:
        raise typer.BadParameter("give - to one of --picture and --page, not to both")
    piped = any(place is not None and place.piped for place in (drawing, paper))
    with working("Comparing the hung group with the plan …"):
        job = vis.open_project(project)
        arrangement = job.arrangement(option or None)
        shown = vis.load_photo(read_file(photo))
        report = vis.check_as_hung(
            shown,
            arrangement,
            reference=reference or None,
            likely=job.document.marks.reference.kind,
            tolerances=Tolerances(level_deg, gap_mm),
        )
    if drawing is not None:
        drawing.write(encode_picture(deviation_picture(shown.pixels, report), drawing.ending))
    if paper is not None:
        paper.write(as_hung_pdf(report, shown.pixels, job.document.name))
    if as_json:
        print_json(
            {
                "done": True,
                "all_right": report.all_right,
                "pieces": [
                    {
                        "id": p.piece_id,
                        "verdict": p.verdict,
                        "dx_mm": _number(p.dx_mm, 2),
                        "dy_mm": _number(p.dy_mm, 2),
                        "tilt_deg": _number(p.tilt_deg, 3),
                        "half_width_95": {
                            "dx_mm": _number(p.dx_half_width_mm, 2),
                            "dy_mm": _number(p.dy_half_width_mm, 2),
                            "tilt_deg": _number(p.tilt_half_width_deg, 3),
                        },
                        "seen_id": p.seen_id,
                        "sentence": p.sentence,
                    }
                    for p in report.pieces
                ],
                "gaps": [
                    {
                        "between": [g.first_id, g.second_id],
                        "direction": g.direction,
                        "planned_mm": round(g.planned_mm, 2),
                        "hung_mm": round(g.hung_mm, 2),
                        "half_width_95_mm": round(g.half_width_mm, 2),
                    }
                    for g in report.gaps
                ],
                "corrections": list(report.corrections),
                "findings": finding_data(report.findings),
            }
        )
        return
    units = job.document.units
    if report.all_right:
        say("Every piece hangs as planned.", as_json=piped)
    for sentence in report.corrections:
        say(sentence, as_json=piped, units=units)
    for piece in report.pieces:
        if piece.verdict in ("not found", "unsure"):
            say(piece.sentence, as_json=piped, units=units)
    say_findings(report.findings, as_json=piped, units=units)


def _number(value: float, digits: int) -> float | None:
    return None if math.isnan(value) else round(value, digits)

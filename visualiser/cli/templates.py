"""``visualiser templates``: paper templates of a job's pieces at true size."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from visualiser.cli.output import (
    AsJson,
    Force,
    finding_data,
    print_json,
    say,
    say_findings,
    target_of,
    working,
)
from visualiser.cli.plan import (
    DespiteOption,
    FromSide,
    OptionOption,
    PaperOption,
    SideOption,
    WallOption,
    planned,
)


def templates(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    out: Annotated[Path, typer.Option(help="PDF to write; - for standard output.")],
    paper: PaperOption = "a4",
    option: OptionOption = "",
    side: SideOption = FromSide.left,
    piece: Annotated[
        list[str] | None,
        typer.Option(metavar="ID", help="Only this piece; may be given again. All when left out."),
    ] = None,
    hooks_only: Annotated[
        bool,
        typer.Option("--hooks-only", help="Print a strip with the hooks instead of whole pieces."),
    ] = False,
    roll: Annotated[
        bool,
        typer.Option(
            "--roll",
            help="Print each piece on one page as large as itself, for a printer that takes rolls.",
        ),
    ] = False,
    wall: WallOption = "",
    despite: DespiteOption = "",
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Print each piece at true size with its hooks, to tape to the wall before drilling."""
    import visualiser as vis
    from visualiser.printing.templates import templates_pdf
    from visualiser.sizes import paper_size

    place = target_of(out, (".pdf",), force=force, as_json=as_json)
    with working("Drawing the templates …"):
        made, title = planned(project, option, wall, side, accepted=despite)
        data = templates_pdf(
            made,
            paper_size(paper),
            kind="hooks" if hooks_only else "whole",
            roll=roll,
            piece_ids=piece or None,
            title=title,
        )
    place.write(data)
    if as_json:
        pieces = piece or [plan.piece.id for plan in made.pieces]
        print_json(
            {
                "done": True,
                "file": str(out),
                "paper": "roll" if roll else paper,
                "pieces": pieces,
                "findings": finding_data(made.findings),
            }
        )
        return
    say(f"{out} is to be printed at 100 %: measure the bars on every sheet.", as_json=place.piped)
    units = vis.open_project(project).document.units
    say_findings(made.gravest, as_json=place.piped, units=units)

"""``visualiser share``: an arrangement without its artworks, to hang again with other pieces."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from visualiser.cli.lengths import both
from visualiser.cli.output import AsJson, Force, print_json, say, target_of, working, write_file
from visualiser.cli.plan import OptionOption, PaperOption
from visualiser.project.made_files import refuse_place


def share(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    out: Annotated[
        Path,
        typer.Option(help="File to write the plan to, .json; its page is put beside it as a PDF."),
    ],
    option: OptionOption = "",
    scale: Annotated[
        float,
        typer.Option(min=0.05, max=20.0, help="Make every size so many times as large."),
    ] = 1.0,
    up: Annotated[
        bool, typer.Option("--up", help="Give every piece's place the next usual size.")
    ] = False,
    size: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PIECE=SIZE",
            help="Give one piece's place another size, such as “a=40 x 50 cm”; may be given again.",
        ),
    ] = None,
    gap: Annotated[
        str,
        typer.Option(metavar="LENGTH", help="Gap between frames, such as “2 1/2 in”."),
    ] = "",
    paper: PaperOption = "a4",
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Write a job's arrangement without its artworks, as a file to hang by and as a page."""
    import visualiser as vis
    from visualiser.arrangement.plan_file import write_plan
    from visualiser.arrangement.slots import one_size_up, plan_of, resized, scaled
    from visualiser.errors import ArrangementError
    from visualiser.printing.shared_plan import shared_plan_pdf
    from visualiser.sizes import paper_size
    from visualiser.units import parse_length, parse_size

    place = target_of(out, (".json",), force=force, as_json=as_json)
    page = None if place.piped else out.with_suffix(".pdf")
    if page is not None:
        refuse_place(page, replace=force)
    sizes = {}
    for entry in size or []:
        piece, sign, words = entry.partition("=")
        if not sign:
            raise ArrangementError(
                f"“{entry}” is not a piece and its size.", hint="Write it as 'a=40 x 50 cm'."
            )
        sizes[piece.strip()] = parse_size(words)
    with working("Writing the plan …"):
        job = vis.open_project(project)
        made = plan_of(job.arrangement(option or None), job.guidelines().gap_mm)
        gap_mm = parse_length(gap) if gap else made.gap_mm
        made = scaled(made, scale, gap_mm)
        if up:
            made = one_size_up(made)
        if sizes:
            made = resized(made, sizes, gap_mm)
        pdf = shared_plan_pdf(made, paper_size(paper))
    if page is not None:
        write_file(page, pdf, force=force)
    place.write(write_plan(made))
    width, height = made.bounds.width_mm, made.bounds.height_mm
    units = job.document.units
    if as_json:
        print_json(
            {
                "done": True,
                "file": str(out),
                "page": str(page),
                "slots": len(made.slots),
                "width_mm": round(width, 1),
                "height_mm": round(height, 1),
                "gap_mm": made.gap_mm,
            }
        )
        return
    say(
        f"{out} is a plan of {len(made.slots)} places, {both(width, units)} wide and "
        f"{both(height, units)} tall" + (f"; {page} is its page." if page else "."),
        as_json=place.piped,
    )

"""``visualiser reuse``: a shared plan, hung with this job's pieces on this job's wall."""

from __future__ import annotations

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


def reuse(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    shared: Annotated[Path, typer.Argument(metavar="PLAN", help="Plan that `share` wrote.")],
    keep: Annotated[
        bool, typer.Option("--keep", help="Add it to the job's options; none is lost.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(help="Picture to write; reused.png in the job's out when left out."),
    ] = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Hang a job's pieces by a shared plan, each in the place that fits it best."""
    import visualiser as vis
    from visualiser.arrangement.plan_file import read_plan
    from visualiser.arrangement.reuse import reused
    from visualiser.rendering.elevation import draw_elevation

    picture = out or project / "out" / "reused.png"
    place = target_of(picture, (".png", ".jpg"), force=force, as_json=as_json)
    with working("Hanging the plan …"):
        job = vis.open_project(project)
        pieces, survey, rules = job.pieces(), job.survey(), job.guidelines()
        made = reused(read_plan(read_file(shared)), pieces, survey, rules)
    letter = ""
    if keep:
        document, letter = job.document.with_option(made)
        if document.chosen is None and not job.document.options:
            document = document.changed(chosen=letter)
        job.save(document)
    drawn = draw_elevation(made, survey, guidelines=rules)
    place.write(encode_picture(drawn, place.ending))
    hung = {p.piece_id for p in made.placements}
    left_out = [p.name or p.id for p in pieces if p.id not in hung]
    if as_json:
        print_json(
            {
                "done": True,
                "file": str(picture),
                "option": letter or None,
                "score": round(made.score, 3),
                "left_out": left_out,
                "placements": [
                    {"piece": p.piece_id, "x_mm": round(p.x_mm, 3), "y_mm": round(p.y_mm, 3)}
                    for p in made.placements
                ],
                "findings": finding_data(made.findings),
            }
        )
        return
    if left_out:
        say(f"Left out: {', '.join(left_out)}.", as_json=place.piped)
    kept = f", option {letter} of the job" if keep else ""
    say(
        f"{made.name or made.family}: {made.score:.1f} of 100, {picture}{kept}", as_json=place.piped
    )
    say_findings(made.findings, as_json=place.piped, units=job.document.units)

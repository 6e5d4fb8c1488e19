"""``visualiser propose``: arrangements of a job's pieces, each as a picture to scale."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from visualiser.arrangement.arrangement import Arrangement
from visualiser.cli.output import (
    AsJson,
    finding_data,
    print_json,
    say,
    say_findings,
    working,
    write_file,
)


def propose(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    family: Annotated[
        list[str] | None,
        typer.Option(help="Way of hanging to try, such as row or salon hang; may be repeated."),
    ] = None,
    count: Annotated[int, typer.Option(min=1, max=20, help="How many proposals.")] = 3,
    seed: Annotated[int, typer.Option(help="Same seed, same proposals.")] = 0,
    out: Annotated[
        Path | None, typer.Option(help="Folder for the pictures; out/ in the job if left out.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Propose arrangements that keep the job's rules, with a drawing to scale of each."""
    import visualiser as vis
    from visualiser.arrangement.swapping import piece_colours
    from visualiser.photo.encoding import encode_png
    from visualiser.rendering.elevation import draw_elevation
    from visualiser.rendering.score_chart import draw_score

    with working("Arranging …"):
        job = vis.open_project(project)
        pieces, survey, rules = job.pieces(), job.survey(), job.guidelines()
        colours = piece_colours(pieces)
        proposals = vis.propose(
            pieces, survey, rules, family or None, count, seed, colours=colours or None
        )
    folder = out or project / "out"
    rows = []
    for number, arrangement in enumerate(proposals, start=1):
        picture = folder / f"proposal-{number}.png"
        chart = folder / f"proposal-{number}-score.png"
        write_file(picture, encode_png(draw_elevation(arrangement, survey, guidelines=rules)))
        write_file(chart, encode_png(draw_score(arrangement)))
        rows.append(_data(arrangement, picture, chart))
    if as_json:
        print_json({"done": True, "proposals": rows})
        return
    for arrangement, row in zip(proposals, rows, strict=True):
        say(f"{arrangement.name}: {arrangement.score:.1f} of 100, {row['file']}", as_json=False)
        for term in arrangement.terms:
            bar = "#" * round(20 * term.value)
            say(f"  {term.name:<16} {bar:<20} {term.sentence}", as_json=False)
        say_findings(arrangement.findings, as_json=False)


def _data(arrangement: Arrangement, picture: Path, chart: Path) -> dict[str, Any]:
    return {
        "name": arrangement.name,
        "family": arrangement.family,
        "score": round(arrangement.score, 3),
        "file": str(picture),
        "score_file": str(chart),
        "placements": [
            {"piece": p.piece_id, "x_mm": round(p.x_mm, 3), "y_mm": round(p.y_mm, 3)}
            for p in arrangement.placements
        ],
        "terms": [
            {
                "name": t.name,
                "value": round(t.value, 4),
                "weight": round(t.weight, 4),
                "sentence": t.sentence,
            }
            for t in arrangement.terms
        ],
        "findings": finding_data(arrangement.findings),
    }

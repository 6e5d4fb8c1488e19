"""``visualiser propose``: arrangements of a job's pieces, each as a picture to scale."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from visualiser.cli.output import (
    AsJson,
    Force,
    finding_data,
    print_json,
    say,
    say_findings,
    working,
    write_files,
)
from visualiser.project.made_files import refuse_place
from visualiser.wording import in_unit

if TYPE_CHECKING:
    from visualiser.arrangement.arrangement import Arrangement
    from visualiser.arrangement.guidelines import Guidelines
    from visualiser.project.document import Document
    from visualiser.project.store import Project
    from visualiser.survey.survey import Survey


def propose(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    family: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME",
            help="Way of hanging to try, such as row or salon hang; may be given again.",
        ),
    ] = None,
    count: Annotated[int, typer.Option(min=1, max=20, help="How many proposals.")] = 3,
    seed: Annotated[
        int,
        typer.Option(
            help="Another number gives other proposals; the same number gives the same ones."
        ),
    ] = 0,
    hang: Annotated[
        int | None,
        typer.Option(min=1, help="Hang only so many; the pieces that suit least are left out."),
    ] = None,
    must: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ID", help="With --hang: piece that hangs in any case; may be given again."
        ),
    ] = None,
    keep: Annotated[
        bool, typer.Option("--keep", help="Add the proposals to the job's options; none is lost.")
    ] = False,
    advise: Annotated[
        bool,
        typer.Option("--advise", help="Say what larger sizes or one more piece would do."),
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for the pictures; out in the job's folder when left out."),
    ] = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Propose arrangements that keep the job's rules, with a drawing to scale of each."""
    import visualiser as vis
    from visualiser.arrangement.setting import piece_colours
    from visualiser.arrangement.suggestions import choose_subset
    from visualiser.photo.encoding import encode_png
    from visualiser.rendering.elevation import draw_elevation
    from visualiser.rendering.score_chart import draw_score

    if must and hang is None:
        raise typer.BadParameter("give --hang with --must: how many pieces hang altogether")
    folder = out or project / "out"
    # Before anything is measured: the names are not known yet, the place is.
    refuse_place(folder / "proposal-1.png", replace=True)
    with working("Arranging …"):
        job = vis.open_project(project)
        pieces, survey, rules = job.pieces(), job.survey(), job.guidelines()
        if hang is not None:
            hung = choose_subset(
                pieces, survey, rules, hang, must=must or (), families=family or None, seed=seed
            )
            used = {p.piece_id for p in hung.placements}
            pieces = tuple(p for p in pieces if p.id in used)
        left_out = [p.name or p.id for p in job.pieces() if p.id not in {q.id for q in pieces}]
        colours = piece_colours(pieces)
        proposals = vis.propose(
            pieces, survey, rules, family or None, count, seed, colours=colours or None
        )
    document, letters = _kept(job, proposals) if keep else (None, [""] * len(proposals))
    rows, files = [], {}
    for number, (arrangement, letter) in enumerate(zip(proposals, letters, strict=True), start=1):
        # What is kept has its letter for a name, so that no later proposal takes its place.
        stem = f"option-{letter}" if letter else f"proposal-{number}"
        picture, chart = folder / f"{stem}.png", folder / f"{stem}-score.png"
        files[picture] = encode_png(draw_elevation(arrangement, survey, guidelines=rules))
        files[chart] = encode_png(draw_score(arrangement))
        row = _data(arrangement, picture, chart)
        if keep:
            row["option"] = letter
        if advise:
            row["advice"] = _advice(arrangement, survey, rules)
        rows.append(row)
    for file in files:
        refuse_place(file, replace=force)
    if document is not None:
        job.save(document)
    write_files(files, force=force)
    if as_json:
        print_json({"done": True, "left_out": left_out, "proposals": rows})
        return
    if left_out:
        say(f"Left out: {', '.join(left_out)}.", as_json=False)
    for arrangement, row in zip(proposals, rows, strict=True):
        kept = f", option {row['option']} of the job" if keep else ""
        say(
            f"{arrangement.name}: {arrangement.score:.1f} of 100, {row['file']}{kept}",
            as_json=False,
        )
        for term in arrangement.terms:
            bar = "#" * round(20 * term.value)
            said = in_unit(term.sentence, job.document.units)
            say(f"  {term.name:<16} {bar:<20} {said}", as_json=False)
        for advice in row.get("advice", ()):
            say(f"  + {in_unit(advice, job.document.units)}", as_json=False)
        say_findings(arrangement.findings, as_json=False, units=job.document.units)


def _kept(job: Project, proposals: list[Arrangement]) -> tuple[Document, list[str]]:
    """Job with proposals as further options, and their letters.

    What the person chose stays chosen; where nothing was, the best proposal is.
    """
    document, letters = job.document, []
    for arrangement in proposals:
        document, letter = document.with_option(arrangement)
        letters.append(letter)
    if document.chosen is None and not job.document.options:
        document = document.changed(chosen=letters[0])
    return document, letters


def _advice(arrangement: Arrangement, survey: Survey, rules: Guidelines) -> list[str]:
    """Sentences on going up a size and on a place left open, where there is something to say."""
    from visualiser.arrangement.suggestions import fill_gap, size_up
    from visualiser.wording import Lengths, Part, joined, sentence

    said: list[str] = []
    if larger := size_up(arrangement, survey, rules):
        sizes: list[Part] = []
        for piece_id, size_mm in larger.sizes_mm.items():
            sizes += [f"{'; ' if sizes else ''}{piece_id} ", Lengths(size_mm)]
        said.append(joined([larger.sentence, sentence("The next usual sizes: ", *sizes, ".")], " "))
    if filler := fill_gap(arrangement, survey, rules):
        said.append(filler.sentence)
    return said


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

"""``visualiser job``: what a job holds, what it needs next, and its name, wall and units."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from visualiser.cli.lengths import both, half_width
from visualiser.cli.output import AsJson, finding_data, print_json, say, say_findings, working
from visualiser.cli.plan import RatingOption, ratings
from visualiser.errors import VisualiserError

if TYPE_CHECKING:
    from visualiser.findings import Finding
    from visualiser.project.store import Project
    from visualiser.survey.survey import Survey

UnitsOption = Annotated[
    Literal["mm", "cm", "in"] | None,
    typer.Option(help="Unit that lengths are shown in, and that those without a unit are in."),
]
WallKindOption = Annotated[
    str,
    typer.Option(
        "--wall", metavar="KIND", help="What the wall is built of, such as plasterboard or brick."
    ),
]
SizeOption = Annotated[
    str,
    typer.Option(
        "--size", metavar="SIZE", help="Width and height of a wall without a photo: “4 m x 2.5 m”."
    ),
]


def job(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    name: Annotated[str, typer.Option(help="What the job is called.")] = "",
    units: UnitsOption = None,
    wall: WallKindOption = "",
    size: SizeOption = "",
    photo: Annotated[
        Path | None, typer.Option(help="Photo of the wall, in the place of the one there.")
    ] = None,
    rating: RatingOption = None,
    as_json: AsJson = False,
) -> None:
    """Show a job, say what it needs next, or change its name, wall, photo and units."""
    import visualiser as vis
    from visualiser.hanging.fixing_classes import check_ratings
    from visualiser.hanging.loads import SAFETY_FACTOR
    from visualiser.project.filling import read_picture
    from visualiser.units import parse_size

    opened = vis.open_project(project)
    if photo is not None:
        read_picture(photo, of_wall=True)
    values: dict[str, Any] = {"name": name} if name else {}
    if units:
        values["units"] = units
    if values:
        opened = opened.save(opened.document.changed(**values))
    marks: dict[str, Any] = {"wall": wall} if wall else {}
    if typed := ratings(rating or []):
        check_ratings(SAFETY_FACTOR, typed)
        marks["ratings_kg"] = {**opened.document.wall.ratings_kg, **typed}
    if size:
        width_mm, height_mm = parse_size(size, opened.document.units)
        marks |= {"width_mm": width_mm, "height_mm": height_mm}
    if marks:
        opened = opened.mark(**marks)
    if photo is not None:
        opened = opened.add_photo(photo)
    show_job(opened, as_json=as_json)


@dataclass(frozen=True, slots=True)
class Measured:
    """A job's wall as far as it can be measured, or why it cannot."""

    survey: Survey | None
    fault: VisualiserError | None = None


def measured(job: Project) -> Measured:
    """Measure a job's wall; that it cannot be is an answer, not an error."""
    if job.document.photo is None and job.document.wall.width_mm is None:
        return Measured(None)
    try:
        with working("Measuring the wall …"):
            return Measured(job.survey())
    except VisualiserError as error:
        return Measured(None, error)


def needs(job: Project, wall: Measured) -> list[dict[str, str]]:
    """List what a job lacks until it can be hung, first things first, and the command for each."""
    document, found = job.document, []

    def need(what: str, do: str) -> None:
        found.append({"what": what, "do": do.replace("JOB", str(job.folder))})

    if document.photo is None and document.wall.width_mm is None:
        need(
            "a photo of the wall, or its size",
            'visualiser job JOB --photo wall.jpg   (or --size "4 m x 2.5 m")',
        )
    if wall.fault is not None:
        need(
            f"a wall that can be measured: {wall.fault.message} {wall.fault.hint}",
            "visualiser marks JOB --reference KIND --corners “x,y x,y x,y x,y”",
        )
    if wall.survey is not None and not wall.survey.floor_known:
        need("the floor", 'visualiser marks JOB --floor "sheet 1300"')
    if not document.pieces:
        need("pieces", "visualiser pieces JOB --from pieces.csv")
    elif not document.options:
        need("an arrangement", "visualiser propose JOB --keep")
    if document.wall.kind in (None, "", "unknown"):
        need("what the wall is built of", "visualiser job JOB --wall brick")
    return found


def job_data(job: Project, wall: Measured) -> dict[str, Any]:
    """Turn a job into plain data for programs."""
    document, survey = job.document, wall.survey
    return {
        "job": str(job.folder),
        "name": document.name,
        "units": document.units,
        "wall": {
            "kind": document.wall.kind,
            "width_mm": document.wall.width_mm,
            "height_mm": document.wall.height_mm,
        },
        "photo": document.photo.path if document.photo else None,
        "reference": document.marks.reference.kind,
        "measured": survey is not None,
        **({"uncertainty_mm": _uncertainty(job, survey)} if survey and survey.plane else {}),
        "floor_known": survey.floor_known if survey else None,
        "pieces": [
            {"id": p.id, "name": p.name, "width_mm": p.width_mm, "height_mm": p.height_mm}
            for p in document.pieces
        ],
        "zones": len(document.marks.zones),
        "furniture": len(document.marks.furniture),
        "options": [
            {"id": o.id, "name": o.name, "pieces": len(o.placements)} for o in document.options
        ],
        "chosen": document.chosen,
        "needs": needs(job, wall),
        "findings": finding_data(_findings(survey)),
    }


def show_job(job: Project, *, as_json: bool, wall: Measured | None = None) -> None:
    """Print what a job holds and needs."""
    wall = wall or measured(job)
    if as_json:
        print_json({"done": True, **job_data(job, wall)})
        return
    document, survey, units = job.document, wall.survey, job.document.units
    say(f"{document.name or job.folder.name}: {job.folder}", as_json=False)
    say(wall_sentence(job, survey), as_json=False)
    kind = document.wall.kind
    said = f"is taken for {kind}" if kind and kind != "unknown" else "is of unknown build"
    say(f"It {said}; lengths without a unit are {units}.", as_json=False)
    for piece in document.pieces:
        size = f"{both(piece.width_mm, units)} x {both(piece.height_mm, units)}"
        art = "" if piece.artwork else ", no artwork"
        say(f"  piece {piece.id}  {piece.name or '–'}, {size}{art}", as_json=False)
    for option in document.options:
        chosen = ", chosen" if option.id == document.chosen else ""
        say(f"  option {option.id}  {option.name or option.family}{chosen}", as_json=False)
    say_findings(_findings(survey), as_json=False, units=units)
    say_needs(job, wall, as_json=False)


def say_needs(job: Project, wall: Measured, *, as_json: bool) -> None:
    """Print what a job needs next, a command for each."""
    lacking = needs(job, wall)
    for need in lacking:
        say(f"Needs {need['what']}\n  {need['do']}", as_json=as_json)
    if not lacking:
        say(f"Ready: visualiser mockup, approval, plan and templates {job.folder}", as_json=as_json)


def wall_sentence(job: Project, survey: Survey | None) -> str:
    """Say what is known of the wall, with its ±, and what is assumed of it."""
    document = job.document
    units = document.units
    if survey is None:
        return "The wall is not measured yet."
    if survey.plane is None:
        bounds = survey.outline.bounds
        return (
            f"The wall is {both(bounds.width_mm, units)} wide and {both(bounds.height_mm, units)} "
            "high as typed, taken to be exact."
        )
    near = _uncertainty(job, survey)
    floor = "the floor" if survey.floor_known else "a height datum; the floor is not known"
    return (
        f"Measured from {document.marks.reference.kind}, taped "
        f"{survey.plane.reference_tilt_deg:+.1f}° off level: {half_width(near['at_reference'])} at "
        f"it, {half_width(near['at_1m'])} one metre away (95 %). Heights are above {floor}."
    )


def _uncertainty(job: Project, survey: Survey) -> dict[str, float]:
    from visualiser.cli.wall import half_width_at

    assert survey.plane is not None
    photo = job.photo()
    return {
        name: round(half_width_at(photo, survey.plane, radius), 2)
        for name, radius in (("at_reference", 0.0), ("at_1m", 1000.0), ("at_2m", 2000.0))
    }


def _findings(survey: Survey | None) -> tuple[Finding, ...]:
    if survey is None:
        return ()
    plane = survey.plane.findings if survey.plane is not None else ()
    seen, kept = set(), []
    for finding in (*plane, *survey.findings):
        if finding.code not in seen:
            seen.add(finding.code)
            kept.append(finding)
    return tuple(kept)

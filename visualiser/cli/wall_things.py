"""``visualiser zones``, ``furniture`` and ``studs``: what is on, before and behind a job's wall."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from visualiser.cli.lengths import both
from visualiser.cli.output import AsJson, print_json, say, working
from visualiser.errors import ProjectError

if TYPE_CHECKING:
    from visualiser.project.document import FurnitureEntry, ZoneEntry
    from visualiser.project.store import Project
    from visualiser.survey.survey import Survey
    from visualiser.units import Unit

Kept = Literal["zones", "furniture"]
Remove = Annotated[
    list[str] | None,
    typer.Option(metavar="NUMBER", help="Remove one by its number or name; may be given again."),
]
Clear = Annotated[bool, typer.Option("--clear", help="Remove all that were marked before.")]
Seen = Annotated[
    bool,
    typer.Option("--seen", help="Take over what is seen in the photo (`wall --keep-clear`)."),
]


def zones(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    add: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ZONE",
            help="“switch 80 x 80 at 3500, 1050”: size, left side, height of the lower edge; or "
            "“door px 812,440 1203,1900”: corners in the photo. May be given again.",
        ),
    ] = None,
    seen: Seen = False,
    remove: Remove = None,
    clear: Clear = False,
    as_json: AsJson = False,
) -> None:
    """List the parts of a job's wall to keep clear; add or remove some."""
    from visualiser.project.phrases import zone_of

    _edit("zones", project, add or [], zone_of, remove or [], seen, clear, as_json)


def furniture(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    add: Annotated[
        list[str] | None,
        typer.Option(
            metavar="THING",
            help="“sofa 2200 x 850 at 900”: width, height, left side; or “sofa px 300,700 "
            "900,980”: corners in the photo. May be given again.",
        ),
    ] = None,
    seen: Seen = False,
    remove: Remove = None,
    clear: Clear = False,
    as_json: AsJson = False,
) -> None:
    """List what stands before a job's wall; add or remove some."""
    from visualiser.project.phrases import furniture_of

    _edit("furniture", project, add or [], furniture_of, remove or [], seen, clear, as_json)


def studs(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    add: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LENGTH",
            help="Middle of a stud that was found with a detector, from the side: “400 mm”, to "
            "its left “-400 mm”; may be given again.",
        ),
    ] = None,
    spacing: Annotated[
        str,
        typer.Option(
            metavar="LENGTH",
            help="Between the middles of neighbours: 400 mm, 600 mm, 16 in; “none” takes it back.",
        ),
    ] = "",
    remove: Annotated[
        list[str] | None,
        typer.Option(metavar="NUMBER", help="Remove one by its number; may be given again."),
    ] = None,
    clear: Clear = False,
    as_json: AsJson = False,
) -> None:
    """List where studs were found behind a job's wall; add or remove some."""
    import visualiser as vis
    from visualiser.units import parse_length, parse_place

    job = vis.open_project(project)
    units = job.document.units
    found = () if clear else job.document.marks.studs_mm
    for wanted in remove or []:
        if wanted not in [str(k) for k in range(1, len(found) + 1)]:
            raise ProjectError(
                f"There is no stud {wanted} to remove.", hint=f"Give a number up to {len(found)}."
            )
        found = (*found[: int(wanted) - 1], *found[int(wanted) :])
    new = tuple(parse_place(words, units) for words in add or [])
    values: dict[str, Any] = {}
    if clear or remove or new:
        values["studs_mm"] = tuple(sorted({*found, *new}))
    if spacing:
        values["stud_spacing_mm"] = None if spacing == "none" else parse_length(spacing, units)
    if values:
        job = job.mark(**values)
    marked = job.document.marks
    if as_json:
        print_json(
            {
                "done": True,
                "studs_mm": list(marked.studs_mm),
                "spacing_mm": marked.stud_spacing_mm,
            }
        )
        return
    for number, place in enumerate(marked.studs_mm, 1):
        say(f"{number}  {both(place, units)} from the side", as_json=False)
    apart = marked.stud_spacing_mm
    say(
        f"Their middles are {both(apart, units)} apart."
        if apart
        else "How far apart studs are is not known.",
        as_json=False,
    )


def _edit(
    field: Kept,
    project: Path,
    add: Sequence[str],
    read: Callable[[str, Unit], ZoneEntry | FurnitureEntry],
    remove: Sequence[str],
    seen: bool,
    clear: bool,
    as_json: bool,
) -> None:
    """Change one kind of marks, and list what there is then."""
    import visualiser as vis

    job = vis.open_project(project)
    units = job.document.units
    new: list[Any] = [read(words, units) for words in add]
    if clear:
        job = job.mark(**{field: ()})
    for wanted in remove:
        kept = _without(getattr(job.document.marks, field), wanted)
        job = job.mark(**{field: kept})
    survey: Survey | None = None
    if seen:
        with working("Looking at the wall …"):
            photo = job.photo()
            survey = job.survey(photo)
            for suggestion in vis.suggest_zones(photo, survey):
                if suggestion.stands == (field == "furniture"):
                    new.append(suggestion)
    if new:
        job = job.mark(*new)
    _show(field, job, as_json=as_json)


def _without(entries: tuple[Any, ...], wanted: str) -> tuple[Any, ...]:
    for number, entry in enumerate(entries, 1):
        if wanted in (str(number), entry.name or "\0"):
            return (*entries[: number - 1], *entries[number:])
    raise ProjectError(
        f"There is no “{wanted}” to remove.",
        hint=f"Give a number from 1 to {len(entries)}, or a name." if entries else "There is none.",
    )


def _show(field: Kept, job: Project, *, as_json: bool) -> None:
    entries = getattr(job.document.marks, field)
    if as_json:
        rows = [
            {
                "number": number,
                "kind": entry.kind,
                "name": entry.name,
                "points_mm": entry.points_mm and [list(p) for p in entry.points_mm],
                "points_px": entry.points_px and [list(p) for p in entry.points_px],
            }
            for number, entry in enumerate(entries, 1)
        ]
        print_json({"done": True, field: rows})
        return
    if not entries:
        say(f"No {field} marked.", as_json=False)
    for number, entry in enumerate(entries, 1):
        what = f"{entry.kind} {entry.name}".strip()
        say(f"{number}  {what}: {_place(entry, job.document.units)}", as_json=False)


def _place(entry: ZoneEntry | FurnitureEntry, units: Unit) -> str:
    if entry.points_mm is None:
        return f"{len(entry.points_px or ())} corners in the photo"
    across, up = zip(*entry.points_mm, strict=True)
    return (
        f"{both(max(across) - min(across), units)} x {both(max(up) - min(up), units)}, "
        f"{both(min(across), units)} from the side, {both(min(up), units)} up"
    )

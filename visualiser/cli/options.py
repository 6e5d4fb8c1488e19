"""``visualiser options``: a job's options, listed, chosen, renamed, restyled, removed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from visualiser.cli.output import AsJson, print_json, say
from visualiser.errors import ProjectError

if TYPE_CHECKING:
    from visualiser.project.document import Document

_SET = ("name", "finish", "wall-colour", "room-light")


def options(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    choose: Annotated[
        str, typer.Option(metavar="ID", help="Option that is worked on and hung.")
    ] = "",
    change: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ID WHAT=VALUE",
            help="Change its name, finish, wall-colour or room-light: “b finish=black”; “b "
            "finish=” takes it back.",
        ),
    ] = None,
    remove: Annotated[
        list[str] | None, typer.Option(metavar="ID", help="Remove an option.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List a job's options; choose, change or remove one."""
    import visualiser as vis

    job = vis.open_project(project)
    document = job.document
    for words in change or []:
        document = _changed(document, words)
    for option_id in remove or []:
        document = _without(document, option_id)
    if choose:
        document = document.changed(chosen=document.option(choose).id)
    if document is not job.document:
        document = job.save(document).document
    rows = [
        {
            "id": option.id,
            "name": option.name,
            "family": option.family,
            "pieces": [p.piece_id for p in option.placements],
            "finish": option.finish,
            "wall_colour": option.wall_colour,
            "room_light": option.room_light,
            "chosen": option.id == document.chosen,
        }
        for option in document.options
    ]
    if as_json:
        print_json({"done": True, "chosen": document.chosen, "options": rows})
        return
    if not rows:
        say(f"No options yet: visualiser propose {project} --keep", as_json=False)
    for option in document.options:
        tried = [option.finish, option.wall_colour]
        tried += [option.room_light] if option.room_light != "as photographed" else []
        more = "".join(f", {value}" for value in tried if value)
        chosen = ", chosen" if option.id == document.chosen else ""
        say(
            f"{option.id}  {option.name or option.family}: {len(option.placements)} pieces"
            f"{more}{chosen}",
            as_json=False,
        )


def _changed(document: Document, words: str) -> Document:
    left, sign, value = words.partition("=")
    option_id, _, what = left.strip().partition(" ")
    what = what.strip().replace("_", "-")
    if not sign or what not in _SET:
        raise ProjectError(
            f"“{words}” does not change an option.",
            hint=f"Write an option, one of {', '.join(_SET)}, and a value: “b finish=black”.",
        )
    field = what.replace("-", "_")
    wanted: Any = value.strip()
    if not wanted and field != "name":
        wanted = "as photographed" if field == "room_light" else None
    option = document.option(option_id)
    return document.replacing(option.model_copy(update={field: wanted}))


def _without(document: Document, option_id: str) -> Document:
    gone = document.option(option_id)
    chosen = None if document.chosen == gone.id else document.chosen
    kept = tuple(option for option in document.options if option.id != gone.id)
    return document.changed(options=kept, chosen=chosen)

"""``visualiser mockup``: draw a job's arrangement over its photo."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, get_args

import typer

from visualiser.cli.output import (
    AsJson,
    Force,
    Target,
    encode_picture,
    finding_data,
    print_json,
    say,
    say_findings,
    target_of,
    working,
)

if TYPE_CHECKING:
    from visualiser.project.store import Project
    from visualiser.rendering.mockup import Mockup, MockupOptions


def mockup(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    out: Annotated[
        Path, typer.Option(help="Picture to write, .jpg or .png; - for a JPEG on standard output.")
    ],
    option: Annotated[
        str, typer.Option(metavar="ID", help="Option to draw; the chosen one when left out.")
    ] = "",
    every_option: Annotated[
        bool, typer.Option("--every-option", help="Draw all options, each to a file of its own.")
    ] = False,
    finish: Annotated[
        str,
        typer.Option(
            metavar="FINISH",
            help="Try one finish on every moulding: oak, walnut, black, white, brass, silver or "
            "natural.",
        ),
    ] = "",
    wall_colour: Annotated[
        str,
        typer.Option(
            metavar="COLOUR",
            help="Try a wall colour, written as in “#8fa39b”: red, green and blue in hexadecimal.",
        ),
    ] = "",
    room_light: Annotated[
        str,
        typer.Option(
            metavar="LIGHT",
            help="Try the light of the room: neutral, daylight, evening or as photographed.",
        ),
    ] = "",
    straight_on: Annotated[
        bool,
        typer.Option(
            "--straight-on", help="Draw it square to the wall, with a scale and dimensions."
        ),
    ] = False,
    crop: Annotated[bool, typer.Option("--crop", help="Show the group and little more.")] = False,
    in_photo: Annotated[
        int | None,
        typer.Option(
            metavar="NUMBER",
            min=1,
            help="Draw in this one of the photos that the wall was joined from, counted from 1.",
        ),
    ] = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Draw an arrangement to true scale over the photograph of the wall."""
    import visualiser as vis

    if every_option and option:
        raise typer.BadParameter("give --option or --every-option, not both")
    if in_photo and (straight_on or crop):
        raise typer.BadParameter("--in-photo shows a whole photo as it was taken")
    tried = _tried(finish, wall_colour, room_light)
    if every_option and str(out) == "-":
        raise typer.BadParameter("--every-option writes files: give --out a name")
    done: list[tuple[str, Target, Mockup]] = []
    job = vis.open_project(project)
    only = job.document.option(option or None)
    options = job.document.options if every_option else (only,)
    places = [
        target_of(
            out.with_stem(f"{out.stem}-{entry.id}") if every_option else out,
            (".jpg", ".png"),
            force=force,
            as_json=as_json,
        )
        for entry in options
    ]
    with working("Drawing the mock-up …"):
        for entry, place in zip(options, places, strict=True):
            result = _draw(job, entry.id, tried, straight_on, crop, in_photo)
            place.write(encode_picture(result.pixels, place.ending, entry.name or None))
            done.append((entry.id, place, result))
    if as_json:
        drawn = [_drawn_data(job, option_id, file, result) for option_id, file, result in done]
        print_json({"done": True, **(drawn[0] if not every_option else {"options": drawn})})
        return
    for _, place, result in done:
        say(f"{place} shows {len(result.corners_px)} pieces to true scale.", as_json=place.piped)
        say_findings(result.findings, as_json=place.piped, units=job.document.units)


def _tried(finish: str, wall_colour: str, room_light: str) -> dict[str, Any]:
    """Choices given on the command line, in place of the option's own."""
    from visualiser.inventory.piece import Finish
    from visualiser.rendering.wall_colour import RoomLight

    finishes = [name for name in get_args(Finish) if name != "custom"]
    tried: dict[str, Any] = {}
    for name, value, allowed in (
        ("finish", finish, finishes), ("room_light", room_light, get_args(RoomLight))
    ):  # fmt: skip
        if value and value not in allowed:
            flag = name.replace("_", "-")
            raise typer.BadParameter(f"--{flag} is one of {', '.join(allowed)}, not {value}")
        if value:
            tried[name] = value
    if wall_colour:
        tried["wall_colour"] = wall_colour
    return tried


def _draw(
    job: Project,
    option_id: str | None,
    tried: dict[str, Any],
    straight_on: bool,
    crop: bool,
    in_photo: int | None,
) -> Mockup:
    from visualiser.rendering.compositing import render_mockup
    from visualiser.rendering.cropping import cropped_to_group
    from visualiser.rendering.straight_on import render_straight_on

    options: MockupOptions = replace(job.mockup_options(option_id), **tried)
    if in_photo is not None:
        from visualiser.project.views import mockup_in_photo

        return mockup_in_photo(job, in_photo, option_id, options)
    photo, survey, arrangement = job.photo(), job.survey(), job.arrangement(option_id)
    if straight_on:
        unit = job.document.units
        return render_straight_on(photo, survey, arrangement, options, unit=unit)
    result = render_mockup(photo, survey, arrangement, options)
    return cropped_to_group(result) if crop else result


def _drawn_data(job: Project, option_id: str, file: Target, result: Mockup) -> dict[str, Any]:
    arrangement = job.arrangement(option_id)
    return {
        "option": option_id,
        "file": str(file),
        "pieces": {
            piece_id: {
                "corners_px": corners.round(2).tolist(),
                "centre_mm": list(arrangement.rect(piece_id).centre_mm),
            }
            for piece_id, corners in result.corners_px.items()
        },
        "findings": finding_data(result.findings),
    }

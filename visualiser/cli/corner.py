"""``visualiser corner``: the wall beyond a corner, measured from a sheet on this side of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import numpy as np
import typer

from visualiser.cli.join import OnWall, fill_with_wall
from visualiser.cli.output import (
    AsJson,
    Force,
    encode_picture,
    fail,
    finding_data,
    print_json,
    read_file,
    say,
    say_findings,
    target_of,
    working,
)
from visualiser.errors import VisualiserError

if TYPE_CHECKING:
    from visualiser.rectification.corner import CornerWalls


def corner(
    photo: Annotated[
        Path,
        typer.Argument(help="Photograph of two walls that meet, a sheet on one of them at least."),
    ],
    edge: Annotated[
        str,
        typer.Option(
            metavar="POINTS",
            help="Two places on the corner's edge in the photo, well apart: “1203,440 1207,1900”.",
        ),
    ],
    reference: OnWall = "a4",
    out: Annotated[
        Path | None, typer.Option(help="Picture to write: the second wall straight on, to scale.")
    ] = None,
    into: Annotated[
        Path | None,
        typer.Option(
            metavar="JOB",
            help="Make the second wall the wall of this job; a new folder begins a job.",
        ),
    ] = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Measure the wall beyond a corner too, from one photo; both walls share their height."""
    import visualiser as vis
    from visualiser.project.joined import joined_files
    from visualiser.project.phrases import points_of
    from visualiser.rectification.corner import second_wall
    from visualiser.units import format_both, format_half_width

    place = None if out is None else target_of(out, (".jpg", ".png"), force=force, as_json=as_json)
    try:
        ends = np.array(points_of(edge, 2))[[0, -1]]
        with working("Looking for references …"):
            picture = vis.load_photo(read_file(photo))
            seen = vis.find_references(picture, reference)
        with working("Measuring both walls …"):
            walls = vis.measure_corner(picture, seen, ends)
            beyond = second_wall(picture, walls)
            drawn = vis.straight_on_picture([beyond.photo], beyond.wall)
        if into is not None:
            files = joined_files(drawn, (walls.second,))
            fill_with_wall(into, [photo], files, reference)
    except VisualiserError as error:
        fail(error, as_json=as_json, extra={"found": False})
        return
    if place is not None:
        place.write(encode_picture(drawn.photo.pixels, place.ending))
    if as_json:
        print_json(
            {
                "found": True,
                **_corner_data(walls),
                "file": None if place is None else str(place),
                "job": None if into is None else str(into),
                "findings": finding_data(walls.findings),
            }
        )
        return
    data = _corner_data(walls)
    say(
        f"The corner is {format_both(abs(walls.corner_mm))} to the {walls.side} of the sheet's "
        f"middle, {format_half_width(data['corner_half_width_mm'])}.",
        as_json=False,
    )
    say(
        f"A metre beyond it the second wall is known to "
        f"{format_half_width(data['half_width_mm_at_1m'])}.",
        as_json=False,
    )
    if place is not None:
        say(f"  {place}", as_json=False)
    if into is not None:
        say(f"The job {into} has the second wall as its wall.", as_json=False)
    say_findings(walls.findings, as_json=False)


def _corner_data(walls: CornerWalls) -> dict[str, Any]:
    """Give where the corner is and how well the second wall is known, for programs."""
    return {
        "side": walls.side,
        "corner_mm": round(walls.corner_mm, 1),
        "corner_half_width_mm": round(walls.corner_half_width_mm, 1),
        "off_square_deg": round(walls.off_square_deg, 2),
        "half_width_mm_at_1m": round(walls.half_width_beyond(1000.0), 1),
    }

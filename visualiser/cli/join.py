"""``visualiser join``: a wall wider than one photo, measured and pictured through several."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

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
from visualiser.findings import Finding

if TYPE_CHECKING:
    from visualiser.project.joined import JoinedFiles
    from visualiser.rectification.joined.wall import JoinedWall


_UNMEASURED = Finding(
    "caution",
    "The picture carries no ±: measured again from the sheet in it, it would claim to be more "
    "exact far from the sheet than it is.",
    "Go by the ± given here, or make it the wall of a job by --into, which keeps them.",
    "picture-without-doubt",
)


OnWall = Annotated[
    str, typer.Option(metavar="KIND", help="What of known size is on the wall: a4, letter, …")
]


def join(
    photos: Annotated[
        list[Path],
        typer.Argument(
            help="Two to eight overlapping photographs of one wall, of one phone at one zoom; at "
            "least one shows the reference."
        ),
    ],
    reference: OnWall = "a4",
    out: Annotated[
        Path | None, typer.Option(help="Picture to write: the whole wall straight on, to scale.")
    ] = None,
    into: Annotated[
        Path | None,
        typer.Option(
            metavar="JOB",
            help="Make the joined picture the wall of this job; a new folder begins a job.",
        ),
    ] = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Measure a wall through several overlapping photos, and join them into one picture."""
    import visualiser as vis
    from visualiser.project.joined import joined_files
    from visualiser.units import format_both, format_half_width

    place = None if out is None else target_of(out, (".jpg", ".png"), force=force, as_json=as_json)
    try:
        with working("Looking for references …"):
            pictures = [vis.load_photo(read_file(photo)) for photo in photos]
            seen = [vis.find_references(picture, reference) for picture in pictures]
        with working("Joining the photos …") as show:
            wall = vis.join_photos(pictures, seen, progress=show)
            pictured = place is not None or into is not None
            joined = vis.straight_on_picture(pictures, wall) if pictured else None
            if into is not None and joined is not None:
                fill_with_wall(into, photos, joined_files(joined, wall.photos), reference)
    except VisualiserError as error:
        fail(error, as_json=as_json, extra={"found": False})
        return
    if place is not None and joined is not None:
        place.write(encode_picture(joined.photo.pixels, place.ending))
    measured = [_photo_data(photo, wall, k) for k, photo in enumerate(photos)]
    findings = (*wall.findings, *([_UNMEASURED] if place is not None else []))
    if as_json:
        print_json(
            {
                "found": True,
                "photos": measured,
                "reference_tilt_deg": round(wall.reference_tilt_deg, 3),
                "file": None if place is None else str(place),
                "job": None if into is None else str(into),
                "findings": finding_data(findings),
            }
        )
        return
    for one in measured:
        x, y = one["middle_mm"]
        where = f"{format_both(x)} across and {format_both(y)} up from the sheet"
        half = format_half_width(one["half_width_mm"])
        say(f"{one['photo']}: its middle lies {where}, {half}", as_json=False)
    if place is not None:
        say(f"  {place}", as_json=False)
    if into is not None:
        say(f"The job {into} has the joined picture as its wall.", as_json=False)
    say_findings(findings, as_json=False)


def fill_with_wall(folder: Path, photos: list[Path], joined: JoinedFiles, reference: str) -> None:
    """Make a straight-on picture the wall of a job, which is begun where there is none."""
    import visualiser as vis
    from visualiser.project.filling import with_marks
    from visualiser.project.joined import with_joined_photos
    from visualiser.project.paths import DOCUMENT_NAME

    there = (folder / DOCUMENT_NAME).exists()
    job = vis.open_project(folder) if there else vis.create_project(folder)
    named = [(photo.name, read_file(photo)) for photo in photos]
    document = with_marks(job.document, (), {"reference": reference})
    job.save(with_joined_photos(document, job.add_file, named, joined))


def _photo_data(photo: Path, wall: JoinedWall, k: int) -> dict[str, Any]:
    """Give where the middle of a photo lies on the wall, and how well that is known."""
    middle = wall.middle_mm(k)
    half = float(wall.photos[k].half_width(middle)[0])
    x, y = (round(float(v), 1) for v in middle[0])
    return {"photo": str(photo), "middle_mm": [x, y], "half_width_mm": round(half, 1)}

"""``visualiser marks``: what a job's wall is measured and drawn with."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from visualiser.cli.job import show_job
from visualiser.cli.output import AsJson, working
from visualiser.errors import ProjectError

if TYPE_CHECKING:
    from visualiser.project.lens_entry import LensEntry


def marks(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    reference: Annotated[
        str,
        typer.Option(
            metavar="KIND",
            help="What of known size is on the wall: a4, letter, …, or its size and how far that "
            "may be off: “10 x 15 cm ± 1 mm”.",
        ),
    ] = "",
    corners: Annotated[
        str,
        typer.Option(
            metavar="POINTS",
            help="Its four corners in the photo, top-left first and clockwise; “none” to look for "
            "it again.",
        ),
    ] = "",
    as_set: Annotated[
        bool | None,
        typer.Option(help="Take the corners just as they are, without looking for edges there."),
    ] = None,
    lens: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="PHOTO",
            help="Photo of the printed target with the same lens; three or more measure the lens.",
        ),
    ] = None,
    floor: Annotated[
        str,
        typer.Option(
            metavar="FLOOR",
            help="“sheet 1300”: height of the reference's lower edge; or points of the photo "
            "where the wall meets the floor.",
        ),
    ] = "",
    line: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LINE", help="A straight edge: “plumb 812,440 812,1900”, or level, straight."
        ),
    ] = None,
    reject_line: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="Room line found that is wrong.")
    ] = None,
    find_lines: Annotated[
        bool | None, typer.Option(help="Whether to look for room lines at all.")
    ] = None,
    taped: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LENGTH", help="A taped length: “838 mm 812,440 1203,440 door width”."
        ),
    ] = None,
    side: Annotated[
        str, typer.Option(metavar="POINT", help="Point of the photo on the side to measure from.")
    ] = "",
    outline: Annotated[
        str, typer.Option(metavar="POINTS", help="Corners of the usable wall in the photo.")
    ] = "",
    in_front: Annotated[
        list[str] | None,
        typer.Option(
            metavar="THING",
            help="What stays in front of the pieces, drawn round: “plant 812,440 903,440 860,700 "
            "inside 850,500 outside 900,600”; “exact” at its end takes the outline as it is.",
        ),
    ] = None,
    paint_out: Annotated[
        list[str] | None,
        typer.Option(metavar="THING", help="What is not to be seen: “nail 812,440 820,440 …”."),
    ] = None,
    wall_here: Annotated[
        list[str] | None,
        typer.Option(metavar="POINT", help="Spot that is wall and takes the new paint: “812,440”."),
    ] = None,
    not_wall_here: Annotated[
        list[str] | None,
        typer.Option(metavar="POINT", help="Spot that is not wall and stays as it is: “812,440”."),
    ] = None,
    light: Annotated[
        str,
        typer.Option(
            metavar="LIGHT",
            help="Where the light comes from: “left level soft”; “none” for what the photo says.",
        ),
    ] = "",
    clear: Annotated[
        list[str] | None,
        typer.Option(
            metavar="WHAT",
            help="Remove all lines, rejected-lines, taped, floor, side, outline, in-front, "
            "painted-out, wall-taps or the lens.",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Mark what the wall is measured and drawn with: every mark that the app can make."""
    import visualiser as vis
    from visualiser.project import phrases
    from visualiser.project.wall_entries import WallTapEntry

    job = vis.open_project(project)
    values: dict[str, Any] = {}
    if reference:
        values["reference"] = reference_typed(reference)
    if corners:
        values["corners_px"] = None if corners == "none" else _exactly(corners, 4)
    if as_set is not None:
        values["as_set"] = as_set
    if lens:
        values["lens"] = _lens(lens)
    if floor:
        values |= phrases.floor_of(floor, job.document.units)
    if find_lines is not None:
        values["find_lines"] = find_lines
    if side:
        values["side_px"] = _exactly(side, 1)[0]
    if outline:
        values["outline_px"] = phrases.points_of(outline, 3)
    if light == "none":
        values["light"] = None
    found: list[Any] = [
        *(phrases.line_of(words) for words in line or []),
        *(phrases.taped_of(words, job.document.units) for words in taped or []),
        *(phrases.in_front_of(words) for words in in_front or []),
        *(phrases.painted_out_of(words) for words in paint_out or []),
        *(WallTapEntry(at_px=_exactly(words, 1)[0], wall=True) for words in wall_here or []),
        *(WallTapEntry(at_px=_exactly(words, 1)[0], wall=False) for words in not_wall_here or []),
        *([phrases.light_of(light)] if light and light != "none" else []),
    ]
    cleared = _cleared(clear or [])
    if reject_line:
        old = () if "rejected_lines" in cleared else job.document.marks.rejected_lines
        values["rejected_lines"] = (*old, *reject_line)
    if cleared:
        # What is cleared and marked anew in one command keeps the new ones.
        job = job.mark(**{name: empty for name, empty in cleared.items() if name not in values})
    if values or found:
        job = job.mark(*found, **values)
    show_job(job, as_json=as_json)


def reference_typed(words: str) -> Any:
    """Read a reference's kind, or its size and how far that may be off, in mm.

    Raises
    ------
    SizeError, UnitError
        If it is neither.

    Examples
    --------
    >>> reference_typed("a5"), reference_typed("10 x 15 cm ± 1 mm")
    ('a5', (100.0, 150.0, 1.0))
    """
    from visualiser.rectification.kinds import check_kind
    from visualiser.units import parse_length, parse_size

    if not words[:1].isdigit():
        return check_kind(words)
    size, _, doubt = words.replace("+-", "±").partition("±")
    return (*parse_size(size), parse_length(doubt)) if doubt else parse_size(size)


def _lens(photos: Sequence[Path]) -> LensEntry:
    """Measure a lens from photos of the printed target."""
    from visualiser.cli.output import read_file
    from visualiser.photo.decoding import load_photo
    from visualiser.project.lens_entry import LensEntry
    from visualiser.rectification.calibration import lens_from_photos

    with working("Measuring the lens …"):
        decoded = (load_photo(read_file(photo)) for photo in photos)
        profile, used = lens_from_photos(decoded, "target")
    return LensEntry.from_profile(profile, used)


def _exactly(words: str, count: int) -> tuple[tuple[float, float], ...]:
    from visualiser.project.phrases import points_of

    points = points_of(words, count)
    if len(points) != count:
        raise ProjectError(
            f"“{words}” gives {len(points)} points, not {count}.",
            hint="Write each as x,y in pixels of the photo, with spaces between.",
        )
    return points


def _cleared(names: Sequence[str]) -> dict[str, Any]:
    known: dict[str, tuple[str, Any]] = {
        "lines": ("lines", ()),
        "rejected-lines": ("rejected_lines", ()),
        "taped": ("taped", ()),
        "floor": ("floor_px", ()),
        "side": ("side_px", None),
        "outline": ("outline_px", None),
        "in-front": ("in_front", ()),
        "painted-out": ("painted_out", ()),
        "wall-taps": ("wall_taps", ()),
        "lens": ("lens", None),
    }
    if unknown := [name for name in names if name not in known]:
        raise typer.BadParameter(f"--clear is one of {', '.join(known)}, not {unknown[0]}")
    found = dict(known[name] for name in names)
    if "floor_px" in found:
        found["reference_height_mm"] = None
    return found

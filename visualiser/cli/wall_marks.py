"""``visualiser marks``, ``zones`` and ``furniture``: what a person marks on a job's wall."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from visualiser.cli.job import show_job
from visualiser.cli.lengths import both
from visualiser.cli.output import AsJson, print_json, say, working
from visualiser.errors import ProjectError

if TYPE_CHECKING:
    from visualiser.project.document import FurnitureEntry, ZoneEntry
    from visualiser.project.lens_entry import LensEntry
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

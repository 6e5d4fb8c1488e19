"""``visualiser approval``: a job's options side by side for the client to choose from."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from visualiser.cli.output import (
    AsJson,
    Force,
    print_json,
    say,
    target_of,
    working,
    write_files,
)
from visualiser.cli.plan import DespiteOption, PaperOption

DATE_FORMS = (
    "%Y-%m-%d", "%d %B %Y", "%d %b %Y", "%B %d, %Y", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y",
)  # fmt: skip


def approval(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    out: Annotated[
        Path,
        typer.Option(
            help="File to write: .pdf; .html for a page to choose on; .png for one picture; - for "
            "a PDF on standard output."
        ),
    ],
    option: Annotated[
        list[str] | None,
        typer.Option(metavar="ID", help="Only this option; may be given again. All when left out."),
    ] = None,
    pictures: Annotated[
        Path | None,
        typer.Option(help="Also write each option here as JPEG: full size, and small to send."),
    ] = None,
    paper: PaperOption = "a4",
    date: Annotated[
        str, typer.Option(metavar="DATE", help="Date to print; today's when left out.")
    ] = "",
    despite: DespiteOption = "",
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Show a job's options side by side at one scale, with room to approve one."""
    import visualiser as vis
    from visualiser.printing.approval import approval_pdf
    from visualiser.printing.approval_page import WIDEST_PX, approval_html
    from visualiser.printing.approval_pictures import approval_png, option_pictures
    from visualiser.project.products import approval_sheet
    from visualiser.sizes import paper_size

    size = paper_size(paper)
    _check_date(date)
    place = target_of(out, (".pdf", ".png", ".html"), force=force, as_json=as_json)
    with working("Drawing the options …"):
        job = vis.open_project(project)
        today = datetime.date.today().isoformat()
        # One picture, and pictures by themselves, are as large as the photo.
        most_px = None if place.ending == ".png" or pictures is not None else WIDEST_PX
        sheet = approval_sheet(job, option or [], date or today, despite=despite, most_px=most_px)
        if place.ending == ".png":
            data = approval_png(sheet, width_px=max(2400, 800 * len(sheet.options)))
        elif place.ending == ".html":
            data = approval_html(sheet, job.document.units)
        else:
            data = approval_pdf(sheet, size)
        files = {}
        if pictures is not None:
            for picture in option_pictures(sheet):
                files[pictures / f"option-{picture.letter}.jpg"] = picture.full
                files[pictures / f"option-{picture.letter}-small.jpg"] = picture.small
    write_files(files, force=force)
    place.write(data)
    if as_json:
        print_json(
            {
                "done": True,
                "file": str(out),
                "pictures": [str(file) for file in files],
                "picture_sizes": [_size(file, content) for file, content in files.items()],
                "options": {
                    letter: shown.arrangement.name
                    for letter, shown in zip(sheet.letters(), sheet.options, strict=True)
                },
            }
        )
        return
    say(f"{out} shows {len(sheet.options)} options for approval.", as_json=place.piped)
    for file, content in files.items():
        shown = _size(file, content)
        say(
            f"{file}: {shown['width_px']} × {shown['height_px']} px, {len(content) / 1e6:.1f} MB",
            as_json=place.piped,
        )


def _size(file: Path, content: bytes) -> dict[str, Any]:
    """Size of a picture, in pixels and bytes."""
    from visualiser.photo.opening import opened

    with opened(content) as picture:
        width, height = picture.image.size
    return {"file": str(file), "width_px": width, "height_px": height, "bytes": len(content)}


def _check_date(text: str) -> None:
    """Refuse a date that no calendar has; how it is written is the person's."""
    if not text:
        return
    for form in DATE_FORMS:
        try:
            datetime.datetime.strptime(text.strip(), form)
        except ValueError:
            continue
        return
    raise typer.BadParameter(f"--date “{text}” is not a date: write it as in 2026-03-14")

"""``visualiser batch``: the pictures and papers of many jobs in one go."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from visualiser.cli.output import AsJson, print_json, say, working, write_file
from visualiser.errors import ProjectError, VisualiserError


def batch(
    jobs: Annotated[
        Path, typer.Argument(metavar="LIST", help="Text file: one job's folder a line.")
    ],
    only: Annotated[
        list[str] | None,
        typer.Option(help="Only mockup, plan or templates; may be given again. All when left out."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Make mock-up, plan and templates of many jobs; one that fails does not stop the rest."""
    from visualiser.project.batch import PRODUCTS, job_folders, make_all

    wanted = only or list(PRODUCTS)
    if unknown := [name for name in wanted if name not in PRODUCTS]:
        raise typer.BadParameter(f"{unknown[0]} is not one of {', '.join(PRODUCTS)}")
    try:
        folders = job_folders(jobs.read_text(encoding="utf-8"), jobs.parent)
    except (OSError, UnicodeDecodeError) as error:
        raise ProjectError(
            f"The list {jobs} could not be read.",
            hint="Give a text file with one job's folder a line.",
        ) from error
    done: list[dict[str, Any]] = []
    failed: list[dict[str, Any]] = []
    with working("Working through the list …"):
        for result in make_all(folders, wanted):
            if len(result) == 3:
                folder, product, error_found = result
                failed.append(_failure(folder, product, error_found))
                continue
            folder, product, name, data = result
            place = folder / "out" / name
            try:
                write_file(place, data)
            except VisualiserError as error_found:
                failed.append(_failure(folder, product, error_found))
                continue
            done.append({"job": str(folder), "made": product, "file": str(place)})
    if as_json:
        print_json({"done": not failed, "made": done, "failed": failed})
    else:
        for entry in done:
            say(entry["file"], as_json=False)
        for entry in failed:
            say(f"{entry['job']}: {entry['why']} {entry['do']}", as_json=False)
        say(f"{len(done)} made, {len(failed)} not.", as_json=False)
    if failed:
        raise typer.Exit(1)


def _failure(folder: Path, product: str, error: VisualiserError) -> dict[str, Any]:
    return {"job": str(folder), "made": product, "why": error.message, "do": error.hint}

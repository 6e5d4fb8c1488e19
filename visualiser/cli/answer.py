"""``visualiser answer``: take in what the client chose on the page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from visualiser.cli.output import AsJson, print_json, read_file, say


def answer(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    reply: Annotated[
        Path,
        typer.Argument(help="File that the page saved, or a text file with the client's message."),
    ],
    as_json: AsJson = False,
) -> None:
    """Choose the option that the client chose, and keep the remark with it."""
    import visualiser as vis
    from visualiser.project.answering import read_answer, with_answer

    job = vis.open_project(project)
    given = read_answer(read_file(reply))
    job = job.save(with_answer(job.document, given))
    option = job.document.option(given.option_id)
    if as_json:
        print_json({"done": True, "chosen": option.id, "remark": given.remark, "from": given.by})
        return
    said = f" Remark: {given.remark}" if given.remark else ""
    who = given.by or "The client"
    say(f"{who} chose option {option.id}, {option.name or option.family}.{said}", as_json=False)

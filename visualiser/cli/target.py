"""``visualiser target``: print a reference target."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from visualiser.cli.output import AsJson, Force, print_json, say, target_of


def target(
    out: Annotated[Path, typer.Option(help="PDF to write; - for standard output.")] = Path(
        "target.pdf"
    ),
    paper: Annotated[Literal["a4", "letter"], typer.Option(help="Paper to print on.")] = "a4",
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Write a page to print at 100 % and tape to the wall: the surest to measure from."""
    from visualiser.printing.target import target_pdf

    place = target_of(out, (".pdf",), force=force, as_json=as_json)
    place.write(target_pdf(paper))
    kind = "target" if paper == "a4" else "target-letter"
    if as_json:
        print_json({"done": True, "file": str(out), "reference": kind})
        return
    say(
        f"{out}: print it at 100 % (not fitted to the page) and measure its check bar.",
        as_json=place.piped,
    )
    say(f"Then: visualiser wall PHOTO --reference {kind}", as_json=place.piped)

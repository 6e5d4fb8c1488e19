"""What a command says: to people in sentences, to programs as JSON, failures as exit codes."""

from __future__ import annotations

import functools
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

from visualiser.errors import PhotoError, VisualiserError
from visualiser.findings import Finding
from visualiser.project.writing import write_whole

AsJson = Annotated[
    bool, typer.Option("--json", help="Print the result as JSON, for other programs.")
]


def guarded(command: Callable[..., None]) -> Callable[..., None]:
    """Turn the errors a person can mend into a sentence and exit code 1."""

    @functools.wraps(command)
    def run(*args: Any, **kwargs: Any) -> None:
        try:
            command(*args, **kwargs)
        except VisualiserError as error:
            fail(error, as_json=bool(kwargs.get("as_json")))

    return run


def fail(error: VisualiserError, *, as_json: bool, extra: dict[str, Any] | None = None) -> None:
    """Say what is wrong and what to do, and leave with exit code 1."""
    if as_json:
        print_json({**(extra or {"done": False}), "why": error.message, "do": error.hint})
    else:
        typer.echo(f"{error.message}\n{error.hint}", err=True)
    raise typer.Exit(1)


def print_json(data: dict[str, Any]) -> None:
    """Print one JSON object on standard output."""
    typer.echo(json.dumps(data, ensure_ascii=False, indent=1))


def say(text: str, *, as_json: bool) -> None:
    """Print a sentence for people: to standard error where standard output is for programs."""
    typer.echo(text, err=as_json)


def finding_data(findings: tuple[Finding, ...]) -> list[dict[str, str]]:
    """Turn findings into plain data for programs."""
    return [
        {"severity": f.severity, "code": f.code, "text": f.text, "do": f.hint} for f in findings
    ]


def say_findings(findings: tuple[Finding, ...], *, as_json: bool) -> None:
    """Print findings as a list, gravest first."""
    order = ("broken", "caution", "advice", "note")
    for finding in sorted(findings, key=lambda f: order.index(f.severity)):
        say(f"  - {finding}", as_json=as_json)


@contextmanager
def working(what: str) -> Iterator[None]:
    """Show on standard error that work goes on, when a person is watching."""
    from rich.console import Console

    console = Console(stderr=True)
    if not console.is_terminal:
        yield
        return
    with console.status(what):
        yield


def read_file(path: Path) -> bytes:
    """Bytes of a picture the person named.

    Raises
    ------
    PhotoError
        If it is not there or may not be read.
    """
    try:
        return path.read_bytes()
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise PhotoError(
            f"{path} could not be opened: {reason.lower()}.",
            hint="Check the name and that you may read the file.",
        ) from error


def write_file(path: Path, data: bytes) -> None:
    """Write a result whole or not at all.

    Raises
    ------
    VisualiserError
        If the place cannot be written to.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, data)
    except OSError as error:
        reason = error.strerror or "it cannot be written"
        raise VisualiserError(
            f"{path} could not be written: {reason.lower()}.",
            hint="Name a file, in a folder that you may write to.",
        ) from error

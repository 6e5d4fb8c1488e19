"""What a command says: to people in sentences, to programs as JSON, failures as exit codes."""

from __future__ import annotations

import functools
import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from visualiser.errors import PhotoError, VisualiserError, is_memory_short, memory_short
from visualiser.findings import Finding, gravest_first
from visualiser.project.made_files import marked, refuse_place
from visualiser.project.writing import make_folder, write_whole
from visualiser.units import Unit
from visualiser.wording import in_unit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

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
        except Exception as error:
            if not is_memory_short(error):
                raise
            fail(memory_short(), as_json=bool(kwargs.get("as_json")))

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


def say(text: str, *, as_json: bool, units: Unit = "mm") -> None:
    """Print a sentence for people: to standard error where standard output is for programs."""
    typer.echo(in_unit(text, units), err=as_json)


def finding_data(findings: tuple[Finding, ...]) -> list[dict[str, str]]:
    """Turn findings into plain data for programs."""
    return [
        {"severity": f.severity, "code": f.code, "text": f.text, "do": f.hint} for f in findings
    ]


def say_findings(findings: tuple[Finding, ...], *, as_json: bool, units: Unit = "mm") -> None:
    """Print findings as a list, gravest first, their lengths in a job's unit."""
    for finding in gravest_first(findings):
        text = f"{in_unit(finding.text, units)} {in_unit(finding.hint, units)}".strip()
        say(f"  - {text}", as_json=as_json)


@contextmanager
def working(what: str) -> Iterator[Callable[[str], None]]:
    """Show on standard error that work goes on, when a person is watching.

    Yields
    ------
    What changes the words that it is shown by.
    """
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console

    with Console(stderr=True).status(what) as status:
        yield status.update


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


Force = Annotated[
    bool,
    typer.Option("--force", help="Replace a file of that name, also one not made by this program."),
]


@dataclass(frozen=True, slots=True)
class Target:
    """Where a result goes, found to be free: a file, or standard output for ``-``.

    Parameters
    ----------
    path
        The file; None for standard output.
    ending
        What is written there: ``.pdf``, ``.png``, …, in small letters.
    force
        Whether a file of that name may be replaced, whoever made it.
    """

    path: Path | None
    ending: str
    force: bool = False

    @property
    def piped(self) -> bool:
        """Whether it is standard output, where nothing else may be said."""
        return self.path is None

    def __str__(self) -> str:
        return "-" if self.path is None else str(self.path)

    def write(self, data: bytes) -> None:
        """Write the result whole or not at all.

        Raises
        ------
        VisualiserError
            If the place cannot be written to, or has been taken meanwhile.
        """
        if self.path is None:
            stream = typer.get_binary_stream("stdout")
            stream.write(marked(data))
            stream.flush()
        else:
            write_file(self.path, data, force=self.force)


def target_of(
    out: Path, endings: tuple[str, ...], *, force: bool = False, as_json: bool = False
) -> Target:
    """Check a place for a result before any work is done for it.

    Parameters
    ----------
    out
        As typed; ``-`` is standard output, which then holds the first of the endings' kind.
    endings
        Kinds that the command can write.
    force
        Whether a file of that name may be replaced.
    as_json
        Whether standard output is taken by the command's own answer.

    Raises
    ------
    VisualiserError
        If a file of the person's would be lost.
    """
    if str(out) == "-":
        if as_json:
            raise typer.BadParameter("--out - and --json both take standard output: give one")
        if typer.get_binary_stream("stdout").isatty():
            raise typer.BadParameter("pipe --out - into a file or a program, not to the screen")
        return Target(None, endings[0])
    ending = {".jpeg": ".jpg", ".htm": ".html"}.get(out.suffix.lower(), out.suffix.lower())
    if ending not in endings:
        if out.is_dir():
            raise VisualiserError(
                f"{out} could not be written: is a directory.",
                hint="Name a file, in a folder that you may write to.",
            )
        known = " or ".join(endings)
        raise typer.BadParameter(f"“{out.name}” must end in {known}, which says what it is to be")
    refuse_place(out, replace=force)
    return Target(out, ending, force)


def encode_picture(pixels: NDArray[np.uint8], ending: str, title: str | None = None) -> bytes:
    """Write a picture as the ending of its file says: ``.png`` or ``.jpg``."""
    from visualiser.photo.encoding import encode_jpeg, encode_png

    if ending == ".png":
        return encode_png(pixels, title=title)
    return encode_jpeg(pixels, title=title)


def write_files(files: dict[Path, bytes], *, force: bool = False) -> None:
    """Write several results, none of them where one must not be written.

    Raises
    ------
    VisualiserError
        If a place cannot be written to, or holds a file of the person's.
    """
    for path in files:
        refuse_place(path, replace=force)
    for path, data in files.items():
        write_file(path, data, force=force)


def write_file(path: Path, data: bytes, *, force: bool = False) -> None:
    """Write a result whole or not at all, with the mark of what was made here.

    Raises
    ------
    VisualiserError
        If the place cannot be written to, or holds a file of the person's.
    """
    refuse_place(path, replace=force)
    try:
        folder = path.parent.resolve()
        make_folder(folder)
        write_whole(folder / path.name, marked(data))
    except OSError as error:
        reason = error.strerror or "it cannot be written"
        raise VisualiserError(
            f"{path} could not be written: {reason.lower()}.",
            hint="Name a file, in a folder that you may write to.",
        ) from error

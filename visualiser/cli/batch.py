"""``visualiser batch``: the pictures and papers of many jobs in one go."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any, Protocol

import typer

from visualiser.cli.output import AsJson, print_json, say
from visualiser.errors import ProjectError

_TELL_EVERY_S = 10.0


def batch(
    jobs: Annotated[
        Path,
        typer.Argument(
            metavar="LIST",
            help="Text file with one job's folder a line; or CSV with the columns job, option "
            "(* for every one), artwork, piece, name.",
        ),
    ],
    only: Annotated[
        list[str] | None,
        typer.Option(
            metavar="WHAT",
            help="Only mockup, plan or templates; may be given again. All when left out.",
        ),
    ] = None,
    at_once: Annotated[
        int,
        typer.Option(
            help="How many to work on at a time; 0 for as many as there are processor cores.",
            min=0,
            max=256,
        ),
    ] = 0,
    scheduler: Annotated[
        str,
        typer.Option(
            metavar="ADDRESS",
            help="Work on a Dask cluster instead: its scheduler, such as tcp://192.0.2.7:8786. "
            "Its workers must see the jobs' folders under the same paths.",
        ),
    ] = "",
    anew: Annotated[
        bool, typer.Option("--anew", help="Make everything again, also what is there already.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Make mock-up, plan and templates of many jobs; one that fails does not stop the rest.

    What has been made is noted beside the list, so that the same command goes on where it was cut
    off, and makes again only what has changed.
    """
    from visualiser.project.batch import Failed, Made
    from visualiser.project.batch_list import expanded, read_list
    from visualiser.project.batch_run import run
    from visualiser.project.products import PRODUCTS

    wanted = tuple(dict.fromkeys(only or PRODUCTS))
    if unknown := [name for name in wanted if name not in PRODUCTS]:
        raise typer.BadParameter(f"{unknown[0]} is not one of {', '.join(PRODUCTS)}")
    items = expanded(read_list(_text(jobs), jobs.resolve().parent))
    if not items:
        raise ProjectError(f"The list {jobs} names no job.", hint="Write one job's folder a line.")
    made: list[Made] = []
    failed: list[Failed] = []
    with _progress(len(items)) as progress:
        for outcomes in run(
            jobs.resolve(), items, wanted, at_once=at_once, scheduler=scheduler, anew=anew
        ):
            made += [o for o in outcomes if isinstance(o, Made)]
            failed += [o for o in outcomes if isinstance(o, Failed)]
            progress.entry_done(all(isinstance(o, Made) and o.kept for o in outcomes))
    kept = sum(one.kept for one in made)
    if as_json:
        print_json(
            {
                "done": not failed,
                "made": [_made_data(one) for one in made],
                "failed": [_failed_data(one) for one in failed],
            }
        )
    else:
        for one in made:
            say(str(one.file), as_json=False)
            for caution in one.cautions:
                say(f"  - {caution}", as_json=False)
        for fault in failed:
            say(f"{fault.item.job}: {fault.why} {fault.do}", as_json=False)
        if unsure := dict.fromkeys(fault.item.job for fault in failed if fault.unsure):
            say("Photos to look at, where no sheet is surely the one:", as_json=False)
            for folder in unsure:
                say(f"  visualiser marks {folder} --reference KIND --corners …", as_json=False)
        there = f" ({kept} of them there already)" if kept else ""
        say(f"{len(made)} made{there}, {len(failed)} not.", as_json=False)
    if failed:
        raise typer.Exit(1)


def _text(listing: Path) -> str:
    try:
        return listing.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise ProjectError(
            f"The list {listing} could not be read.",
            hint="Give a text file in UTF-8 with one job's folder a line.",
        ) from error


def _made_data(made: Any) -> dict[str, Any]:
    return {
        "job": str(made.item.job),
        "made": made.product,
        "file": str(made.file),
        "sha256": made.sha256,
        "there_already": made.kept,
        "cautions": list(made.cautions),
    }


def _failed_data(failed: Any) -> dict[str, Any]:
    option, artwork = failed.item.option, failed.item.artwork
    return {
        "job": str(failed.item.job),
        **({"option": option} if option else {}),
        **({"artwork": str(artwork)} if artwork else {}),
        "made": failed.product,
        "why": failed.why,
        "do": failed.do,
        "look_at_photo": failed.unsure,
    }


class _Progress(Protocol):
    def entry_done(self, kept: bool) -> None:
        """Take note of an entry; ``kept`` where there was nothing to do."""


@contextmanager
def _progress(total: int) -> Iterator[_Progress]:
    """Tell on standard error how far it is: a bar where a person watches, lines elsewhere."""
    if not sys.stderr.isatty():
        yield _Lines(total)
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    columns = (BarColumn(), MofNCompleteColumn(), TimeRemainingColumn(elapsed_when_finished=True))
    with Progress(*columns, console=Console(stderr=True)) as bar:
        yield _Bar(bar, total)


class _Bar:
    """A bar with the time left."""

    def __init__(self, bar: Any, total: int) -> None:
        self._bar, self._total = bar, total
        self._task = bar.add_task("", total=total)

    def entry_done(self, kept: bool) -> None:
        if kept:  # says nothing of how long the others take
            self._total -= 1
            self._bar.update(self._task, total=self._total)
        else:
            self._bar.advance(self._task)


class _Lines:
    """A line now and then with the time left."""

    def __init__(self, total: int) -> None:
        self._total, self._done = total, 0
        self._started = self._told = time.monotonic()

    def entry_done(self, kept: bool) -> None:
        now = time.monotonic()
        if kept:  # says nothing of how long the others take
            self._total, self._started = self._total - 1, now
            return
        self._done += 1
        if now - self._told < _TELL_EVERY_S:
            return
        self._told = now
        left_s = (now - self._started) / self._done * (self._total - self._done)
        left = f"{left_s / 60:.0f} min" if left_s >= 90 else f"{left_s:.0f} s"
        typer.echo(f"{self._done} of {self._total} made, about {left} left", err=True)

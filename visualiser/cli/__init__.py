"""The command line: one file a command, each a thin client of the library.

Every command takes ``--json``: the result on standard output for programs, progress on standard
error. Exit codes: 0 done, 1 could not, 2 not understood.
"""

from __future__ import annotations

import copy
import sys
from collections.abc import Callable
from typing import Annotated

import typer
from typer.models import CommandInfo

from visualiser.cli import (
    answer,
    approval,
    batch,
    check,
    corner,
    demo,
    guide,
    job,
    join,
    launch,
    layout,
    mockup,
    options,
    palette,
    pieces,
    plan,
    propose,
    rank,
    reuse,
    rules,
    share,
    start,
    target,
    templates,
    wall,
    wall_marks,
    wall_things,
)
from visualiser.cli.output import guarded
from visualiser.cli.usage import Commands

app = typer.Typer(
    name="visualiser",
    help="See groups of framed pictures to true scale on a photographed wall, and hang them level.",
    cls=Commands,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
)

EXAMPLES: dict[Callable[..., None], str] = {
    demo.demo: "visualiser demo --out demo",
    start.start: "visualiser start hall --photo wall.jpg --floor 'sheet 1300' --pieces pieces.csv "
    "--through plan",
    job.job: "visualiser job hall --wall brick --units in",
    target.target: "visualiser target --paper letter --out target.pdf",
    wall.wall: "visualiser wall wall.jpg --reference a4 --keep-clear --lower-edge '1300 mm'",
    pieces.pieces: "visualiser pieces hall --add 'Heron 40 x 50 cm' --change 'p1 weight kg=3.2'",
    join.join: "visualiser join left.jpg right.jpg --reference a4 --into corridor",
    corner.corner: "visualiser corner corner.jpg --edge '1203,440 1207,1900' --into window-wall",
    layout.layout: "visualiser layout floor.jpg --reference a4 --into hall --out found.jpg",
    wall_marks.marks: "visualiser marks hall --floor 'sheet 1300' --line 'plumb 812,440 812,1900'",
    wall_things.zones: "visualiser zones hall --seen --add 'switch 80 x 80 at 3500, 1050'",
    wall_things.furniture: "visualiser furniture hall --add 'sofa 2200 x 850 at 900'",
    wall_things.studs: "visualiser studs hall --add '400 mm' --spacing '600 mm'",
    palette.palette: "visualiser palette heron.jpg shore.jpg --room wall.jpg",
    rules.rules: "visualiser rules hall --change 'gap=2 1/2 in' --hard gap",
    propose.propose: "visualiser propose hall --family grid --count 2 --keep",
    options.options: "visualiser options hall --choose b --change 'b finish=black'",
    share.share: "visualiser share hall --out hall-plan.json --gap '2 1/2 in'",
    reuse.reuse: "visualiser reuse landing hall-plan.json --keep",
    rank.rank: "visualiser rank hall artworks --slot p1 --max-width '40 cm'",
    mockup.mockup: "visualiser mockup hall --out mockup.jpg --finish walnut",
    approval.approval: "visualiser approval hall --out options.html",
    answer.answer: "visualiser answer hall reply.json",
    plan.plan: "visualiser plan hall --out plan.pdf --side right --rating 'nail hook=12'",
    templates.templates: "visualiser templates hall --out templates.pdf --paper a3",
    check.check: "visualiser check hall hung.jpg --reference a4 --page check.pdf",
    batch.batch: "visualiser batch jobs.txt --only plan",
    guide.guide: "visualiser guide",
    launch.app: "visualiser app --port 8600",
}
"""Every command's function, and one use of it; the function's name is the command's."""

COMMANDS = tuple(EXAMPLES)

for command, example in EXAMPLES.items():
    app.command(epilog=f"Example: {example}")(guarded(command))


def _version(wanted: bool) -> None:
    if wanted:
        from visualiser.project.release import release

        typer.echo(f"visualiser {release()}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the release.")
    ] = False,
) -> None:
    """See groups of framed pictures to true scale on a photographed wall, and hang them level."""


def main() -> None:
    """Run one command and leave with its exit code."""
    # To build the parsers of the other commands takes longer than many a command's own work.
    run = copy.copy(app)
    named = [c for c in app.registered_commands if _name(c) in sys.argv[1:2]]
    run.registered_commands = named or app.registered_commands
    run()


def _name(command: CommandInfo) -> str:
    return command.callback.__name__ if command.callback else ""

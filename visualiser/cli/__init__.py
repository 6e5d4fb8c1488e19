"""The command line: one file a command, each a thin client of the library.

Every command takes ``--json``: the result on standard output for programs, progress on standard
error. Exit codes: 0 done, 1 could not, 2 not understood.
"""

from __future__ import annotations

import typer

from visualiser.cli import (
    approval,
    batch,
    check,
    demo,
    launch,
    mockup,
    palette,
    plan,
    propose,
    rank,
    reuse,
    share,
    target,
    templates,
    wall,
)
from visualiser.cli.output import guarded

app = typer.Typer(
    name="visualiser",
    help="See groups of framed pictures to true scale on a photographed wall, and hang them level.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

COMMANDS = (
    demo.demo,
    target.target,
    wall.wall,
    palette.palette,
    propose.propose,
    share.share,
    reuse.reuse,
    rank.rank,
    mockup.mockup,
    approval.approval,
    plan.plan,
    templates.templates,
    check.check,
    batch.batch,
    launch.app,
)
"""Every command's function; its name is the command's name."""

for command in COMMANDS:
    app.command()(guarded(command))


@app.callback()
def _root() -> None:
    """Keep the command's name even while there is only one."""


def main() -> None:
    """Run one command and leave with its exit code."""
    app()

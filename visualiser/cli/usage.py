"""What was typed and not understood: said to people in words, to programs as JSON."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from typing import Any

import typer
import typer.core

BAD_USAGE = 2
# Some releases of Typer bring Click's errors with them, others import them: these are theirs.
_UsageError: type[Any]
_ClickError: type[Any]
_UsageError, _ClickError = typer.BadParameter.__mro__[1:3]


class Commands(typer.core.TyperGroup):
    """The commands, with errors of usage as JSON where ``--json`` was typed."""

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        windows_expand_args: bool = True,
        **extra: Any,
    ) -> Any:
        """Run one command."""
        words = list(sys.argv[1:] if args is None else args)
        if not (standalone_mode and "--json" in words):
            return super().main(
                args, prog_name, complete_var, standalone_mode, windows_expand_args, **extra
            )
        try:
            code = super().main(args, prog_name, complete_var, False, windows_expand_args, **extra)
        except typer.Abort:
            sys.exit(1)
        except Exception as error:
            if not isinstance(error, _ClickError):
                raise
            self._answer(error)
        sys.exit(code if isinstance(code, int) else 0)

    def _answer(self, error: Any) -> None:
        """Print an error of usage as JSON, and leave."""
        if isinstance(error, _UsageError):
            context = getattr(error, "ctx", None)
            where = context.command_path if context is not None else "visualiser"
            answer = {
                "done": False,
                "why": error.format_message(),
                "do": f"See {where} --help.",
            }
            typer.echo(json.dumps(answer, ensure_ascii=False, indent=1))
            sys.exit(BAD_USAGE)
        error.show()
        sys.exit(error.exit_code)

"""``visualiser app``: start the app in the browser, for this computer or for the room's network."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Annotated

import typer

from visualiser.cli.output import say
from visualiser.errors import VisualiserError


def app(
    lan: Annotated[
        bool, typer.Option(help="Let tablets on the same network in. Only where you trust it.")
    ] = False,
    port: Annotated[
        int,
        typer.Option(
            help="Port that the app answers at: the number at the end of its address.",
            min=1024,
            max=65535,
        ),
    ] = 8501,
    browser: Annotated[bool, typer.Option(help="Open the app in the browser.")] = True,
) -> None:
    """Start the app: the whole road from photo to hung group, in the browser."""
    command = [
        sys.executable,
        "-m",
        "visualiser.app",
        str(entry_script()),
        f"--server.port={port}",
        f"--server.address={'0.0.0.0' if lan else '127.0.0.1'}",
        f"--server.headless={'false' if browser else 'true'}",
    ]
    if lan:
        say(
            "Anyone on this network who has a job's address can open that job. "
            "Stop with Ctrl+C when the work at the wall is done.",
            as_json=True,
        )
    try:
        code = subprocess.call(command)
    except KeyboardInterrupt:
        code = 0
    if code:
        raise VisualiserError(
            f"The app ended with code {code}.",
            hint=f"Is port {port} taken? Try another, as in: visualiser app --port {port + 1}.",
        )


def entry_script() -> Path:
    """Find the script that starts the app: packed into the wheel, or at the top of a clone.

    Raises
    ------
    VisualiserError
        If it is in neither place.
    """
    package = Path(__file__).parents[1]
    packed = package / "app" / "_entry" / "streamlit_app.py"
    for place in (packed, package.parent / "streamlit_app.py"):
        if place.exists():
            return place
    raise VisualiserError(
        "The start script of the app is missing from this copy.", hint="Install the program again."
    )

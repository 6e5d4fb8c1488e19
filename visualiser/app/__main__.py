"""``python -m visualiser.app SCRIPT …``: Streamlit's server, getting ready while it starts.

Streamlit alone would load the program only once a browser has loaded the empty page; here the two
go on side by side.
"""

from __future__ import annotations

import importlib
import sys
import threading

from streamlit.web import cli

_FIRST = ("visualiser.app.main", "numpy")
"""What drawing the first page loads."""


def serve(arguments: list[str]) -> None:
    """Serve a script with options of ``streamlit run``, until it is stopped."""
    threading.Thread(target=_load, daemon=True).start()
    cli.main(["run", *arguments], prog_name="visualiser app")


def _load() -> None:
    for name in _FIRST:
        importlib.import_module(name)


if __name__ == "__main__":
    serve(sys.argv[1:])

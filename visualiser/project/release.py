"""Which release of the program this is."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version


def release() -> str:
    """Give the number of the installed release; empty when run from its folder, never installed."""
    try:
        return version("wall-visualiser")
    except PackageNotFoundError:
        return ""

"""Where a catalogue's index is kept: in the user's cache folder, never among the pictures."""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Mapping
from pathlib import Path

_FOLDER = "wall-visualiser"


def index_place(source: Path, cache: Path) -> Path:
    """File of the index of a folder or list; the same for the same place, however it is written.

    Parameters
    ----------
    source
        Folder of pictures, or list of them.
    cache
        Folder for what can be made again, as `cache_folder` finds it.
    """
    whole = source.resolve()
    digest = hashlib.sha256(str(whole).encode("utf-8", "surrogateescape")).hexdigest()[:16]
    return cache / _FOLDER / "catalogues" / f"{digest}.sqlite"


def cache_folder(
    environ: Mapping[str, str] = os.environ, platform: str = sys.platform, home: Path | None = None
) -> Path:
    """Find the user's folder for what can be made again.

    References
    ----------
    XDG Base Directory Specification 0.8: ``$XDG_CACHE_HOME``, an absolute path, else
    ``$HOME/.cache``. Windows: ``%LOCALAPPDATA%``; macOS: ``~/Library/Caches`` (both from memory).
    """
    own = home if home is not None else Path.home()
    if platform == "win32" and environ.get("LOCALAPPDATA"):
        return Path(environ["LOCALAPPDATA"])
    if platform == "darwin":
        return own / "Library" / "Caches"
    told = environ.get("XDG_CACHE_HOME", "")
    return Path(told) if told and Path(told).is_absolute() else own / ".cache"

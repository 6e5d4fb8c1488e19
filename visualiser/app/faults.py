"""Faults of the program in its log: where they happened, and nothing of whose job it was."""

from __future__ import annotations

import logging
import traceback
from pathlib import Path

_log = logging.getLogger(__name__)


def note_fault(what: str, fault: Exception) -> None:
    """Log what failed and where, but not its message: that may hold a client's name in a path."""
    frames = traceback.extract_tb(fault.__traceback__)
    where = " < ".join(f"{Path(f.filename).name}:{f.lineno}" for f in reversed(frames[-4:]))
    _log.error("%s failed: %s at %s", what, type(fault).__name__, where)
    _log.debug("in full", exc_info=fault)

"""Writing so that a crash, a full disk or a second writer never costs what was there."""

from __future__ import annotations

import os
import secrets
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from visualiser.errors import ProjectError

LOCK_NAME = ".lock"
_PATIENCE_S = 5.0


def write_atomically(place: Path, data: bytes) -> None:
    """Write a file whole or not at all: to a new file, flushed to the disk, then renamed.

    Raises
    ------
    ProjectError
        If the disk is full, the folder has gone or may not be written; what was there stays.
    """
    partial = place.with_name(f".{place.name}.{secrets.token_hex(4)}.part")
    try:
        with partial.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        partial.replace(place)
        _sync_folder(place.parent)
    except OSError as error:
        _remove(partial)
        raise unwritable(place, error) from error


def unwritable(place: Path, error: OSError) -> ProjectError:
    """Say in a sentence why a place could not be written."""
    reason = (error.strerror or "it cannot be written").lower()
    return ProjectError(
        f"{place.name} could not be saved in {place.parent.name or place.parent}: {reason}.",
        hint="What was saved before is untouched; free some space, or check that the folder is "
        "still there and may be written to, and save again.",
    )


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold a job for one writer at a time.

    The system's own file lock is used: it ends with the process that holds it, so a crash leaves
    no stale lock behind.

    Raises
    ------
    ProjectError
        If another writer holds it for seconds on end, or the folder cannot be written.
    """
    try:
        handle = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise unwritable(folder / "project.json", error) from error
    try:
        deadline = time.monotonic() + _PATIENCE_S
        while not _try_lock(handle):
            if time.monotonic() > deadline:
                raise ProjectError(
                    "Another program is holding this job and does not let go of it.",
                    hint="Close the job there, then save again.",
                )
            time.sleep(0.01)
        yield
    finally:
        os.close(handle)


if sys.platform == "win32":
    import msvcrt

    def _try_lock(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _sync_folder(folder: Path) -> None:
        """Windows offers no way to flush a folder's entries."""

else:
    import fcntl

    def _try_lock(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _sync_folder(folder: Path) -> None:
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _remove(place: Path) -> None:
    try:
        place.unlink(missing_ok=True)
    except OSError:
        return

"""Writing so that neither a crash nor a full disk costs what was there."""

from __future__ import annotations

import errno
import os
import secrets
import sys
from glob import escape
from pathlib import Path

from visualiser.errors import ProjectError
from visualiser.project.paths import DOCUMENT_NAME


def write_atomically(place: Path, data: bytes) -> None:
    """Write a file of a job whole or not at all.

    Raises
    ------
    ProjectError
        If the disk is full, the folder has gone or may not be written; what was there stays.
    """
    try:
        write_whole(place, data)
    except OSError as error:
        raise unwritable(place, error) from error


def write_whole(place: Path, data: bytes) -> None:
    """Write to a new file, flush it to the disk, then rename it; what fails leaves nothing.

    Raises
    ------
    OSError
        As the system gave it, for who says it in words of its own; what was there stays.
    """
    if place.is_dir():  # systems differ in what they say of a file put in a folder's place
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(place))
    if place.exists() and not place.is_file():  # a device or pipe, which a rename would replace
        raise OSError(errno.EINVAL, "It is a device, not a file", str(place))
    partial = place.with_name(f".{place.name}.{secrets.token_hex(4)}.part")
    try:
        with partial.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        partial.replace(place)
        sync_folder(place.parent)
    except OSError:
        _remove(partial)
        raise


def remove_partial(place: Path) -> None:
    """Remove what writers of this place left half written when they were killed.

    Only for who knows that no one else is writing it: under the job's lock or the batch's ledger.
    """
    for leftover in place.parent.glob(f".{escape(place.name)}.*.part"):
        _remove(leftover)


def remove_partials(folder: Path) -> None:
    """Remove what writers of any file of a folder left half written when they were killed.

    Only under the lock that every writer into that folder holds.
    """
    for leftover in folder.glob(".*.????????.part"):
        _remove(leftover)


def make_folder(folder: Path, *, private: bool = False) -> None:
    """Make a folder and those above it, on the disk when this returns; what is there stays.

    Parameters
    ----------
    folder
        The folder.
    private
        Whether only its owner may look into it.

    Raises
    ------
    OSError
        As the system gave it.
    """
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(mode=0o700 if private else 0o777, exist_ok=True)
    sync_folder(folder.parent)


def unwritable(place: Path, error: OSError) -> ProjectError:
    """Say in a sentence why a place could not be written."""
    reason = (error.strerror or "it cannot be written").lower()
    hidden = place.name.startswith(".") or place.name == DOCUMENT_NAME
    what = "The job" if hidden else place.name  # names that only the program knows say nothing
    return ProjectError(
        f"{what} could not be saved in {place.parent.name or place.parent}: {reason}.",
        hint="What was saved before is untouched; free some space, or check that the folder is "
        "still there and may be written to, and save again.",
    )


if sys.platform == "win32":

    def sync_folder(folder: Path) -> None:
        """Windows offers no way to flush a folder's entries."""

else:

    def sync_folder(folder: Path) -> None:
        """Put on the disk which files and folders a folder holds."""
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

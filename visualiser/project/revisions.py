"""Earlier states of a job, kept in its folder: one file a revision, named by its number."""

from __future__ import annotations

import os
import shutil
from collections.abc import Collection
from pathlib import Path

from visualiser.project.writing import make_folder, unwritable

REVISIONS_NAME = "revisions"
REVISIONS_KEPT = 30


def revision_place(folder: Path, revision: int) -> Path:
    """Name the file that an earlier state of a job is kept in."""
    return folder / REVISIONS_NAME / f"{revision:06d}.json"


def kept_revisions(folder: Path) -> tuple[int, ...]:
    """List the earlier states that a job's folder keeps, oldest first."""
    kept = (folder / REVISIONS_NAME).glob("*.json")
    return tuple(sorted(int(p.stem) for p in kept if p.stem.isdecimal()))


def keep_revision(place: Path, revision: int, wanted: Collection[int]) -> None:
    """Keep the present state under its number before it is replaced.

    Of the others the last ones are kept, and those that can be gone back or forth to.

    Parameters
    ----------
    place
        The present state's file.
    revision
        Its number.
    wanted
        Numbers of the states that can be gone back or forth to.

    Raises
    ------
    ProjectError
        If it cannot be written.
    """
    kept = revision_place(place.parent, revision)
    folder = kept.parent
    try:
        make_folder(folder)
        kept.unlink(missing_ok=True)
        try:
            os.link(place, kept)
        except OSError:  # a file system without links
            shutil.copyfile(place, kept)
        for old in sorted(folder.glob("*.json"))[:-REVISIONS_KEPT]:
            if not (old.stem.isdecimal() and int(old.stem) in wanted):
                old.unlink(missing_ok=True)
    except OSError as error:
        raise unwritable(place, error) from error

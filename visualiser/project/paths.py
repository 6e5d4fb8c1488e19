"""Paths inside a job: relative, plain, and never out of the folder."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path, PurePosixPath

from visualiser.errors import ProjectError

DOCUMENT_NAME = "project.json"
"""The file in a job's folder that makes it one."""
UNPACKING_PREFIX = ".unpacking-"
"""Start of the name of the folder beside a job's in which its zip is unpacked."""
PICTURE_FOLDERS = ("photos", "artworks")
"""Where a job keeps the files it names."""

_HIDDEN = re.compile("[\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]")
"""Characters that turn a name around, or that nobody sees in it."""
PICTURE_SUFFIXES = (
    ".jpg", ".jpeg", ".jpe", ".jfif", ".mpo", ".png", ".webp", ".tif", ".tiff",
    ".heic", ".heif", ".hif",
)  # fmt: skip
"""Endings of a job's files, so that no system takes one for a program."""

_RESERVED = {"con", "prn", "aux", "nul", *(f"{n}{i}" for n in ("com", "lpt") for i in range(1, 10))}
_LONGEST = 200


def checked_path(text: str) -> str:
    """Return a job's path unchanged when it is one that may be followed.

    It names a file directly in one of the picture folders, with ``/`` between the two, and works
    on every system: no drive, no ``..``, no name that Windows keeps for itself, no ending but a
    picture's, no character that hides another ending.

    Raises
    ------
    ProjectError
        If it is anything else.
    """
    parts = PurePosixPath(text).parts
    name = parts[-1] if parts else ""
    plain = (
        len(parts) == 2
        and "/".join(parts) == text
        and len(text) <= _LONGEST
        and parts[0] in PICTURE_FOLDERS
        and not re.search(r'[\\:*?"<>|\x00-\x1f\x7f-\x9f]', text)
        and not _HIDDEN.search(text)
        and name.lower().endswith(PICTURE_SUFFIXES)
        and not name.startswith(".")
        and not name.endswith((".", " "))
        and name.split(".")[0].lower() not in _RESERVED
    )
    if not plain:
        raise ProjectError(
            f"The path {text[:80]!r} does not name a picture inside the job's folder.",
            hint="Put the picture into photos/ or artworks/ and name it by that relative path.",
        )
    return text


def file_inside(folder: Path, relative: str) -> Path:
    """Absolute place of a job's file, links followed and found to stay inside the folder.

    Raises
    ------
    ProjectError
        If the path, or a link on the way, leads out of the folder.
    """
    place = folder / checked_path(relative)
    if not place.resolve().is_relative_to(folder.resolve()):
        raise ProjectError(
            f"{relative} is a link that leads out of the job's folder.",
            hint="Replace the link by a copy of the file.",
        )
    return place


def plain_name(name: str, digest: str, suffix: str) -> str:
    """File name made of a person's file name and the first digits of its content's hash.

    Examples
    --------
    >>> plain_name("Flur, Südwand.JPG", "0123456789abcdef", ".jpg")
    'flur-sudwand-01234567.jpg'
    """
    stem = PurePosixPath(name.replace("\\", "/")).stem
    return f"{slug(stem) or 'picture'}-{digest[:8]}{suffix}"


def slug(text: str) -> str:
    """Reduce a text to at most 40 small letters, digits and hyphens; maybe to nothing.

    Examples
    --------
    >>> slug("Flur, Südwand")
    'flur-sudwand'
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:40]

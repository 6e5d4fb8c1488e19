"""Files that this program made, told from a person's own: only its own are ever replaced unasked.

What is written carries a mark with the hash of the rest. A file that was changed since, or came
from elsewhere, has no mark that fits, wherever it has been copied to.

References
----------
ISO 32000-1:2008, 7.2.3 and annex H (implementation note 18: readers look for ``%%EOF`` within the
last 1024 bytes, so a comment may follow it); W3C PNG (third edition), 11.3.3.2, ``tEXt``;
ITU-T T.81 (1992), B.2.4.5, ``COM``.
"""

from __future__ import annotations

import hashlib
import re
import struct
import zlib
from pathlib import Path

from visualiser.errors import ProjectError
from visualiser.project.paths import DOCUMENT_NAME, PICTURE_FOLDERS

_MARK = b"made by wall-visualiser, "
_DIGEST = rb"([0-9a-f]{64})"
_PNG_END = b"\x00\x00\x00\x00IEND\xaeB`\x82"
_TRAILERS = {  # what surrounds the mark at the end of a file, by its first bytes
    b"%PDF": (b"%% ", b"\n"),
    b"<!doctype html>": (b"<!-- ", b" -->\n"),
    b"{": (b',\n "made_by": "', b'"\n}'),
}
_OWN = (DOCUMENT_NAME, *PICTURE_FOLDERS, "revisions", "measured")
"""What of a job's folder holds the person's work or the program's keeping: no place for results."""


def marked(data: bytes) -> bytes:
    """Add the mark to a PDF, PNG, JPEG, HTML page or JSON object; other content stays as it is."""
    digest = hashlib.sha256(data).hexdigest().encode()
    if data.startswith(b"\x89PNG") and data.endswith(_PNG_END):
        text = b"tEXtComment\0" + _MARK + digest
        chunk = struct.pack(">I", len(text) - 4) + text + struct.pack(">I", zlib.crc32(text))
        return data[: -len(_PNG_END)] + chunk + _PNG_END
    if data.startswith(b"\xff\xd8\xff"):
        at = _after_applications(data)
        text = _MARK + digest
        return data[:at] + b"\xff\xfe" + struct.pack(">H", len(text) + 2) + text + data[at:]
    for start, (before, after) in _TRAILERS.items():
        if data.startswith(start):
            kept = data.removesuffix(b"\n").removesuffix(b"}") if start == b"{" else data
            kept = kept.rstrip(b"\n") if start == b"{" else kept
            digest = hashlib.sha256(kept).hexdigest().encode()
            return kept + before + _MARK + digest + after
    return data


def made_here(data: bytes) -> bool:
    """Whether this program wrote these bytes, just as they are."""
    if data.startswith(b"\x89PNG"):
        length = 12 + 8 + len(_MARK) + 64
        tail = data[-len(_PNG_END) - length : -len(_PNG_END)]
        found = re.fullmatch(rb".{4}tEXtComment\0" + _MARK + _DIGEST + rb".{4}", tail, re.DOTALL)
        rest = data[: -len(_PNG_END) - length] + _PNG_END
    elif data.startswith(b"\xff\xd8\xff"):
        at = _after_applications(data)
        end = at + 4 + len(_MARK) + 64
        found = re.fullmatch(rb"\xff\xfe.." + _MARK + _DIGEST, data[at:end], re.DOTALL)
        rest = data[:at] + data[end:]
    else:
        for start, (before, after) in _TRAILERS.items():
            if data.startswith(start):
                pattern = re.escape(before) + _MARK + _DIGEST + re.escape(after) + rb"\Z"
                found = re.search(pattern, data[-400:])
                rest = data[: len(data) - len(data[-400:]) + found.start()] if found else b""
                break
        else:
            return False
    return found is not None and hashlib.sha256(rest).hexdigest().encode() == found[1]


def refuse_place(place: Path, *, replace: bool = False) -> None:
    """Refuse a place for a result that would cost the person a file of their own.

    Parameters
    ----------
    place
        Where a result is to be written.
    replace
        Whether the person said that a file which is there may go. A job's own files never may.

    Raises
    ------
    ProjectError
        If it is a job's document or lies among its pictures, is no plain file, or is a file that
        this program did not make.
    """
    try:
        for spelled in (place.resolve(), place.absolute()):
            _refuse_own(spelled)
        place = place.parent.resolve() / place.name  # a/../b is b, also where there is no a yet
        if place.is_dir() or not (place.exists() or place.is_symlink()):
            return  # a folder is refused by the system, in its words
        if not place.is_file():
            raise ProjectError(
                f"{place} is not a plain file.", hint="Name a new file in a folder, or - to pipe."
            )
        if not replace and not made_here(place.read_bytes()):
            raise ProjectError(
                f"{place} is there already, and this program did not make it as it is.",
                hint="Choose another name, or replace it with --force.",
            )
    except (OSError, RuntimeError, ValueError) as error:  # links in a circle, names too long
        reason = getattr(error, "strerror", None) or str(error)
        raise ProjectError(
            f"{place} could not be written: {reason.lower()}.",
            hint="Name a file, in a folder that you may write to.",
        ) from error


def _refuse_own(place: Path) -> None:
    """Refuse what lies in the part of any job's folder that is not for results."""
    for folder in place.parents:
        inside = place.relative_to(folder).parts[0].casefold()
        if (inside in _OWN or inside.startswith(".")) and (folder / DOCUMENT_NAME).is_file():
            raise ProjectError(
                f"{place.name} would be written over the job in {folder.name}, or among its own "
                "files.",
                hint=f"Results belong outside it or in {folder.name}/out, such as "
                f"{folder.name}/out/{place.stem or 'result'}{place.suffix}.",
            )


def _after_applications(data: bytes) -> int:
    """Where a JPEG's application segments end, which readers expect first."""
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF and 0xE0 <= data[at + 1] <= 0xEF:
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return at

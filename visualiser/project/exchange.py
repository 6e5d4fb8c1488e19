"""A job as one zip: to send, to keep, to open elsewhere."""

from __future__ import annotations

import hashlib
import io
import os
import stat
import struct
import tempfile
import zipfile
import zlib
from contextlib import ExitStack
from pathlib import Path
from typing import IO

from visualiser.errors import PhotoError, ProjectError
from visualiser.photo.limits import PhotoLimits
from visualiser.photo.opening import check_picture
from visualiser.project.contents import checked_content
from visualiser.project.document import HistoryEntry, read_document, write_document
from visualiser.project.entries import FileEntry
from visualiser.project.paths import DOCUMENT_NAME, UNPACKING_PREFIX, file_inside
from visualiser.project.privacy import strip_private
from visualiser.project.reading import MOST_BYTES as DOCUMENT_BYTES
from visualiser.project.store import Project, create_project
from visualiser.project.writing import make_folder, sync_folder, write_atomically

MOST_FILES = 2000
MOST_BYTES = 1_000_000_000
_MOST_RATIO = 200  # pictures hardly shrink in a zip; what swells more than this is a trap
_RATIO_FROM = 1_000_000
# APPNOTE.TXT 6.3.10 (PKWARE), 4.3.16 and 4.3.15: the record at a zip's end, and what stands before
# it where the zip is larger than 4 GB.
_END_RECORD, _END_SIGNATURE, _LARGE_LOCATOR = 22, b"PK\x05\x06", b"PK\x06\x07"
_MOST_CONTENTS_BYTES = 1_000_000
"""Room for `MOST_FILES` names of the longest kind; each entry costs ten times as much in memory."""


def export_zip(project: Project) -> bytes:
    """Pack a job: the pictures it names, their private data removed, and its document.

    Raises
    ------
    ProjectError
        If a picture is missing, has been exchanged, or cannot be read.
    """
    packed: dict[str, FileEntry] = {}
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:

        def pack(entry: FileEntry | None) -> FileEntry | None:
            if entry is None:
                return None
            if entry.path not in packed:
                data, suffix = _without_private(entry, checked_content(entry, project.read_file))
                path = _with_suffix(entry.path, suffix)
                if path.casefold() in (kept.path.casefold() for kept in packed.values()):
                    stem, _, ending = path.rpartition(".")  # a.tif and a.png are both a.png now
                    path = f"{stem}-{hashlib.sha256(data).hexdigest()[:8]}.{ending}"
                _add(archive, path, data, zipfile.ZIP_STORED)
                packed[entry.path] = FileEntry(path=path, sha256=hashlib.sha256(data).hexdigest())
            return packed[entry.path]

        document = project.document
        marks = document.marks
        if marks.joined is not None:
            photos = tuple(pack(entry) for entry in marks.joined.photos)
            joined = marks.joined.model_copy(update={"photos": photos})
            marks = marks.model_copy(update={"joined": joined})
        document = document.changed(
            marks=marks,
            history=HistoryEntry(),
            photo=pack(document.photo),
            as_hung_photo=pack(document.as_hung_photo),
            pieces=tuple(
                piece.model_copy(update={"artwork": pack(piece.artwork)})
                for piece in document.pieces
            ),
        )
        _add(archive, DOCUMENT_NAME, write_document(document), zipfile.ZIP_DEFLATED)
    return buffer.getvalue()


def import_zip(data: bytes | Path, folder: Path | str) -> Project:
    """Unpack a job into a new folder; all of it or, where anything is amiss, nothing.

    Only the files that the job names are taken, and only where they are pictures. Links, doubled
    names, too many files and files that swell beyond reason are refused.

    Parameters
    ----------
    data
        The zip, or where it lies.
    folder
        Where the job's folder is to be.

    Raises
    ------
    ProjectError
        If it is not the zip of a job, or not a safe one, or the folder holds a job already.
    """
    folder = Path(folder)
    with ExitStack() as stack:
        try:
            archive = stack.enter_context(_opened_zip(data, stack))
            members = _checked_members(archive)
            if DOCUMENT_NAME not in members:
                raise _refused("it holds no project.json")
            document = read_document(_content(archive, members[DOCUMENT_NAME]))
            if missing := sorted({e.path for e in document.pictures} - members.keys()):
                raise _refused(f"{missing[0]} is missing from it")
        except _BROKEN as error:
            raise _refused("it is damaged, or of a kind that is not read") from error
        try:
            make_folder(folder.parent)
            with tempfile.TemporaryDirectory(prefix=UNPACKING_PREFIX, dir=folder.parent) as aside:
                unpacked = Path(aside) / "job"
                create_project(unpacked, document)
                for entry in document.pictures:
                    _unpack(archive, members[entry.path], entry, unpacked)
                if folder.exists() and not any(folder.iterdir()):
                    folder.rmdir()  # Windows renames onto nothing, not even an empty folder
                unpacked.rename(folder)
                sync_folder(folder.parent)
        except OSError as error:
            raise ProjectError(
                f"The job could not be unpacked into {folder.name}: "
                f"{(error.strerror or 'it cannot be written').lower()}.",
                hint="Choose a new folder in a place that may be written to.",
            ) from error
    return Project(folder, document)


_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    NotImplementedError,
    RuntimeError,
    EOFError,
    OSError,
    ValueError,
)
"""What reading a zip of any bytes may raise."""


def _opened_zip(data: bytes | Path, stack: ExitStack) -> zipfile.ZipFile:
    """Open a zip whose table of contents is no longer than any job's."""
    file: IO[bytes] = io.BytesIO(data) if isinstance(data, bytes) else data.open("rb")
    stack.enter_context(file)
    size = file.seek(0, os.SEEK_END)
    file.seek(max(0, size - _END_RECORD - 0xFFFF))
    tail = file.read()
    at = len(tail) - _END_RECORD
    if tail[at : at + 4] != _END_SIGNATURE or tail[-2:] != b"\0\0":
        at = tail.rfind(_END_SIGNATURE)
    if at < 0 or len(tail) < at + _END_RECORD:
        raise zipfile.BadZipFile
    (contents_bytes,) = struct.unpack_from("<I", tail, at + 12)
    if contents_bytes > _MOST_CONTENTS_BYTES or tail[at - 20 : at - 16] == _LARGE_LOCATOR:
        raise _refused("its table of contents is longer than any job's")
    return zipfile.ZipFile(file)


def _checked_members(archive: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
    infos = archive.infolist()
    if len(infos) > MOST_FILES:
        raise _refused(f"it holds {len(infos)} files, more than any job")
    if sum(info.file_size for info in infos) > MOST_BYTES:
        raise _refused("it would unpack to more than 1 GB")
    members: dict[str, zipfile.ZipInfo] = {}
    folded: set[str] = set()
    for info in infos:
        if stat.S_ISLNK(info.external_attr >> 16):
            raise _refused("it holds a link")
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise _refused("one of its files is packed in a way that is not read")
        if info.file_size > max(_RATIO_FROM, _MOST_RATIO * info.compress_size):
            raise _refused("one of its files swells beyond reason when unpacked")
        if info.filename.casefold() in folded:
            raise _refused("it holds two files of one name")
        folded.add(info.filename.casefold())
        members[info.filename] = info
    return members


def _content(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    """Content of a file, whose length is known to be reasonable before any of it is unpacked."""
    most = DOCUMENT_BYTES if info.filename == DOCUMENT_NAME else PhotoLimits().file_bytes
    if info.file_size > most:
        raise _refused(f"{info.filename} would unpack to {info.file_size / 1e6:.0f} MB")
    with archive.open(info) as file:
        data = file.read(info.file_size + 1)
    if len(data) > info.file_size:
        raise _refused("one of its files is larger than it says")
    return data


def _unpack(
    archive: zipfile.ZipFile, info: zipfile.ZipInfo, entry: FileEntry, folder: Path
) -> None:
    """Put one picture into the job's folder, if it is the one that is named, and a picture."""
    place = file_inside(folder, entry.path)
    if place.exists():
        return
    try:
        content = _content(archive, info)
    except _BROKEN as error:
        raise _refused("it is damaged, or of a kind that is not read") from error
    checked_content(entry, lambda _: content)
    try:
        check_picture(content)
    except PhotoError as error:
        raise _refused(f"{entry.path} is no picture that is read here ({error.message})") from error
    make_folder(place.parent)
    write_atomically(place, content)


def _without_private(entry: FileEntry, data: bytes) -> tuple[bytes, str]:
    try:
        return strip_private(data)
    except PhotoError as error:
        raise ProjectError(
            f"{entry.path} cannot be read, so its private details cannot be removed: "
            f"{error.message}",
            hint="Replace the picture, then export again.",
        ) from error


def _with_suffix(path: str, suffix: str) -> str:
    """Path with the ending that suits what is packed under it."""
    if path.lower().endswith((suffix, ".jpeg") if suffix == ".jpg" else suffix):
        return path
    return (path.rpartition(".")[0] or path) + suffix


def _add(archive: zipfile.ZipFile, name: str, data: bytes, compression: int) -> None:
    info = zipfile.ZipInfo(name)  # the zip's own date of 1980: when it was packed is private too
    info.compress_type = compression
    info.external_attr = 0o644 << 16
    archive.writestr(info, data)


def _refused(what: str) -> ProjectError:
    return ProjectError(
        f"This zip cannot be opened as a job: {what}.",
        hint="Export the job again where it was made, and open that file.",
    )

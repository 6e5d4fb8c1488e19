"""A job as one zip: to send, to keep, to open elsewhere."""

from __future__ import annotations

import hashlib
import io
import stat
import tempfile
import zipfile
import zlib
from pathlib import Path

from visualiser.errors import PhotoError, ProjectError
from visualiser.project.contents import checked_content
from visualiser.project.document import Document, read_document, write_document
from visualiser.project.entries import FileEntry
from visualiser.project.paths import DOCUMENT_NAME, UNPACKING_PREFIX, file_inside
from visualiser.project.privacy import strip_private
from visualiser.project.store import Project, create_project
from visualiser.project.writing import write_atomically

MOST_FILES = 2000
MOST_BYTES = 1_000_000_000
_MOST_RATIO = 200  # pictures hardly shrink in a zip; what swells more than this is a trap
_RATIO_FROM = 1_000_000


def export_zip(project: Project) -> bytes:
    """Pack a job: its document and the pictures it names, their private data removed.

    Raises
    ------
    ProjectError
        If a picture is missing, has been exchanged, or cannot be read.
    """
    packed: dict[str, tuple[FileEntry, bytes]] = {}

    def pack(entry: FileEntry | None) -> FileEntry | None:
        if entry is None:
            return None
        if entry.path not in packed:
            data, suffix = _without_private(entry, checked_content(entry, project.read_file))
            stem = entry.path.rpartition(".")[0] or entry.path
            path = entry.path if entry.path.lower().endswith((suffix, ".jpeg")) else stem + suffix
            digest = hashlib.sha256(data).hexdigest()
            packed[entry.path] = (FileEntry(path=path, sha256=digest), data)
        return packed[entry.path][0]

    document = project.document
    document = document.changed(
        photo=pack(document.photo),
        as_hung_photo=pack(document.as_hung_photo),
        pieces=tuple(
            piece.model_copy(update={"artwork": pack(piece.artwork)}) for piece in document.pieces
        ),
    )
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        _add(archive, DOCUMENT_NAME, write_document(document), zipfile.ZIP_DEFLATED)
        for entry, data in sorted(packed.values(), key=lambda item: item[0].path):
            _add(archive, entry.path, data, zipfile.ZIP_STORED)
    return buffer.getvalue()


def import_zip(data: bytes, folder: Path | str) -> Project:
    """Unpack a job into a new folder; all of it or, where anything is amiss, nothing.

    Only the files that the job names are taken. Links, doubled names, too many files and files
    that swell beyond reason are refused.

    Raises
    ------
    ProjectError
        If it is not the zip of a job, or not a safe one, or the folder holds a job already.
    """
    folder = Path(folder)
    try:
        document, contents = _read_zip(data)
    except (
        zipfile.BadZipFile,
        zlib.error,
        NotImplementedError,
        RuntimeError,
        EOFError,
        OSError,
        ValueError,
    ) as error:
        raise _refused("it is damaged, or of a kind that is not read") from error
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=UNPACKING_PREFIX, dir=folder.parent) as aside:
            unpacked = Path(aside) / "job"
            create_project(unpacked, document)
            for path, content in contents.items():
                place = file_inside(unpacked, path)
                place.parent.mkdir(exist_ok=True)
                write_atomically(place, content)
            if folder.exists() and not any(folder.iterdir()):
                folder.rmdir()  # Windows renames onto nothing, not even an empty folder
            unpacked.rename(folder)
    except OSError as error:
        raise ProjectError(
            f"The job could not be unpacked into {folder.name}: "
            f"{(error.strerror or 'it cannot be written').lower()}.",
            hint="Choose a new folder in a place that may be written to.",
        ) from error
    return Project(folder, document)


def _read_zip(data: bytes) -> tuple[Document, dict[str, bytes]]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = _checked_members(archive)
        if DOCUMENT_NAME not in members:
            raise _refused("it holds no project.json")
        document = read_document(_content(archive, members[DOCUMENT_NAME]))
        named = sorted(_files_of(document))
        if missing := [path for path in named if path not in members]:
            raise _refused(f"{missing[0]} is missing from it")
        contents = {path: _content(archive, members[path]) for path in named}
    for entry in _entries_of(document):
        checked_content(entry, contents.__getitem__)
    return document, contents


def _checked_members(archive: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
    infos = archive.infolist()
    if len(infos) > MOST_FILES:
        raise _refused(f"it holds {len(infos)} files, more than any job")
    if sum(info.file_size for info in infos) > MOST_BYTES:
        raise _refused("it would unpack to more than 1 GB")
    members: dict[str, zipfile.ZipInfo] = {}
    for info in infos:
        if stat.S_ISLNK(info.external_attr >> 16):
            raise _refused("it holds a link")
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise _refused("one of its files is packed in a way that is not read")
        if info.file_size > max(_RATIO_FROM, _MOST_RATIO * info.compress_size):
            raise _refused("one of its files swells beyond reason when unpacked")
        if info.filename.casefold() in (name.casefold() for name in members):
            raise _refused("it holds two files of one name")
        members[info.filename] = info
    return members


def _content(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    with archive.open(info) as file:
        data = file.read(info.file_size + 1)
    if len(data) > info.file_size:
        raise _refused("one of its files is larger than it says")
    return data


def _entries_of(document: Document) -> list[FileEntry]:
    entries = [document.photo, document.as_hung_photo, *(p.artwork for p in document.pieces)]
    return [entry for entry in entries if entry is not None]


def _files_of(document: Document) -> set[str]:
    return {entry.path for entry in _entries_of(document)}


def _without_private(entry: FileEntry, data: bytes) -> tuple[bytes, str]:
    try:
        return strip_private(data)
    except PhotoError as error:
        raise ProjectError(
            f"{entry.path} cannot be read, so its private details cannot be removed: "
            f"{error.message}",
            hint="Replace the picture, then export again.",
        ) from error


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

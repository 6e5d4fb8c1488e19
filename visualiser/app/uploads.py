"""Files that a person drops on the page: checked, then kept with the job."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING

import streamlit as st

from visualiser.app.session import Kept
from visualiser.errors import PhotoError, VisualiserError

if TYPE_CHECKING:
    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from visualiser.app.state import Work
    from visualiser.photo.photo import Photo
    from visualiser.project.entries import FileEntry

PICTURE_KINDS = ["jpg", "jpeg", "png", "webp", "tif", "tiff", "heic", "heif"]


def keep_picture(work: Work, folder: str, name: str, data: bytes) -> FileEntry:
    """Check that a file is a picture, and keep it with the job.

    Raises
    ------
    PhotoError
        If it is not a picture that can be used.
    ProjectError
        If it cannot be written.
    """
    from visualiser.photo.decoding import load_photo
    from visualiser.photo.limits import check_wall_size
    from visualiser.project.filling import picture_suffix

    if folder == "photos":
        photo = decoded(data)
        check_wall_size(photo.width_px, photo.height_px)
    else:
        load_photo(data)
    return work.project.add_file(folder, name, data, picture_suffix(data))


def decoded(data: bytes) -> Photo:
    """Decode a wall's photo, once for all that the page will ask of it.

    Raises
    ------
    PhotoError
        If it cannot be decoded.
    """
    from visualiser.app.caches import kept_photo
    from visualiser.photo.decoding import load_photo

    return kept_photo(hashlib.sha256(data).hexdigest(), lambda: load_photo(data))


@dataclass(slots=True)
class _Taken:
    """What a page has taken of the files that lie on it, by the place they were dropped at.

    Two runs of a page can be at work at once: what one is keeping, the other waits for.
    """

    lock: Lock = field(default_factory=Lock)
    files: dict[str, frozenset[str]] = field(default_factory=dict)
    troubles: dict[str, VisualiserError] = field(default_factory=dict)

    def fresh(self, spot: str, uploads: Sequence[UploadedFile]) -> list[UploadedFile]:
        """Those that are yet to be taken."""
        done = self.files.get(spot, frozenset())
        return [upload for upload in uploads if upload.file_id not in done]

    def note(self, spot: str, uploads: Sequence[UploadedFile]) -> None:
        """Have them count as taken."""
        self.files[spot] = frozenset(upload.file_id for upload in uploads)

    def nothing_new(self, spot: str) -> bool:
        """Say so, or what is wrong with those that lie there."""
        if trouble := self.troubles.get(spot):
            raise trouble
        return False

    def forget(self, spot: str) -> None:
        """Nothing lies there any more."""
        self.files.pop(spot, None)
        self.troubles.pop(spot, None)


_TAKEN: Kept[_Taken] = Kept("taken-uploads")


def take_uploads(
    uploads: Sequence[UploadedFile],
    spot: str,
    keep: Callable[[list[tuple[str, bytes]]], object],
    words: str = "Reading the file …",
) -> bool:
    """Keep the files that were dropped just now, once.

    Parameters
    ----------
    uploads
        What lies at that place of the page now.
    spot
        Name of the place.
    keep
        Keeps the files, given their names and contents, and draws nothing. It is called before
        they count as taken: a run of the page may be given up at whatever it draws, and the next
        one then takes them.
    words
        What to say meanwhile.

    Returns
    -------
    Whether any were kept just now.

    Raises
    ------
    VisualiserError
        If they cannot be kept, as long as they lie there.
    """
    taken = _TAKEN.get_or_make(_Taken)
    if not uploads:
        taken.forget(spot)
        return False
    if not taken.fresh(spot, uploads):
        return taken.nothing_new(spot)
    with st.spinner(words), taken.lock:
        fresh = taken.fresh(spot, uploads)
        if not fresh:
            return taken.nothing_new(spot)  # another run of the page has kept them meanwhile
        taken.troubles.pop(spot, None)
        try:
            if not all(upload.size for upload in fresh):
                raise PhotoError(
                    "The file is empty.", hint="Copy it from the phone or camera again."
                )
            keep([(upload.name, upload.getvalue()) for upload in fresh])
        except VisualiserError as error:
            taken.troubles[spot] = error
            taken.note(spot, uploads)
            raise
        taken.note(spot, uploads)
        for upload in fresh:
            free_upload(upload)
        return True


def take_upload(
    upload: UploadedFile | None,
    spot: str,
    keep: Callable[[str, bytes], object],
    words: str = "Reading the file …",
) -> bool:
    """Keep the one file that was dropped just now, once; see ``take_uploads``."""
    return take_uploads([upload] if upload else [], spot, lambda files: keep(*files[0]), words)


def free_upload(upload: UploadedFile) -> None:
    """Free the memory of an upload that has been taken; the page goes on showing its name.

    Streamlit keeps every upload until its page is closed, by a manager that is not part of its
    public face; where that is another one, the upload is kept.
    """
    try:
        from streamlit.runtime import get_instance
        from streamlit.runtime.scriptrunner import get_script_run_ctx
        from streamlit.runtime.uploaded_file_manager import UploadedFileRec

        context = get_script_run_ctx()
        if context is not None:
            empty = UploadedFileRec(upload.file_id, upload.name, upload.type, b"")
            get_instance().uploaded_file_mgr.add_file(context.session_id, empty)  # type: ignore[attr-defined]
    except (ImportError, AttributeError, RuntimeError, TypeError):
        return

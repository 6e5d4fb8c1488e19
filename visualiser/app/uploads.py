"""Files that a person drops on the page: checked, then kept with the job."""

from __future__ import annotations

from typing import TYPE_CHECKING

from visualiser.app.session import Kept
from visualiser.errors import PhotoError

if TYPE_CHECKING:
    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from visualiser.app.state import Work
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

    photo = load_photo(data)
    if folder == "photos":
        check_wall_size(photo.width_px, photo.height_px)
    return work.project.add_file(folder, name, data, picture_suffix(data))


def fresh_upload(upload: UploadedFile | None, spot: str) -> bytes | None:
    """Content of a file dropped just now; None once it has been dealt with.

    Raises
    ------
    PhotoError
        If it is empty.
    """
    taken: Kept[str] = Kept(f"taken-{spot}")
    if upload is None:
        taken.take()
        return None
    if taken.get() == upload.file_id:
        return None
    taken.put(upload.file_id)
    if not upload.size:
        raise PhotoError("The file is empty.", hint="Copy it from the phone or camera again.")
    data = upload.getvalue()
    let_go(upload)
    return data


def let_go(upload: UploadedFile) -> None:
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

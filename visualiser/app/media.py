"""Pictures for the wall view, by address instead of inside every message.

Streamlit keeps the pictures of a page by a manager that is not part of its public face. It is used
here and nowhere else; without it the picture travels inside the message, slower but the same. The
addresses are made from the content's hash and hold only as long as a page shows them, but need no
login: on a shared server who has one can see that picture.
"""

from __future__ import annotations

import base64
from typing import Any


def picture_address(data: bytes, mimetype: str, place: str, *, inside: bool = False) -> str:
    """Address under which the browser finds a picture.

    Parameters
    ----------
    data
        The picture file.
    mimetype
        Such as ``image/jpeg``.
    place
        Name of the spot that shows it; a new picture there replaces the old.
    inside
        Whether the picture is to travel inside the message in any case.
    """
    manager = None if inside else _manager()
    if manager is not None:
        try:
            return str(manager.add(data, mimetype, f"wall-view-{place}"))
        except Exception:  # whatever a private manager raises, the fallback works
            return _inline(data, mimetype)
    return _inline(data, mimetype)


def _inline(data: bytes, mimetype: str) -> str:
    return f"data:{mimetype};base64,{base64.b64encode(data).decode('ascii')}"


def _manager() -> Any:
    try:
        from streamlit.runtime import exists, get_instance

        return get_instance().media_file_mgr if exists() else None
    except (ImportError, AttributeError):
        return None

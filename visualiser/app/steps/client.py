"""The options as the client is shown them: drawn one by one, the first looked at meanwhile."""

from __future__ import annotations

import streamlit as st

from visualiser.app import client_show
from visualiser.app.media import picture_address
from visualiser.app.option_pictures import (
    option_picture,
    picture_before,
    picture_key,
    picture_size,
)
from visualiser.app.results import Results
from visualiser.app.session import Kept
from visualiser.app.state import Work, option_on_view

_DRAWN: Kept[frozenset[str]] = Kept("client-drawn")
"""What pictures of options have been drawn for, so that they are at hand."""


def show_client(work: Work, results: Results) -> None:
    """Offer the show; once it is open, draw what it lacks, a picture at a time."""
    document = work.document
    width, height = picture_size(results)
    wanted = client_show.is_asked_for()
    before = picture_before(results) if wanted else None
    drawn = _DRAWN.get() or frozenset()
    options = []
    lacking = None
    for option in document.options:
        key = picture_key(results, option.id)
        at_hand = wanted and key in drawn
        if not at_hand and lacking is None:
            lacking = option.id
        name = option.name or option.family
        options.append(
            {
                "id": option.id,
                "name": f"{option.id.upper()} · {name[:1].upper()}{name[1:]}",
                "picture": _address(option_picture(results, option.id), option.id)
                if at_hand
                else None,
            }
        )
    client_show.mount(
        {
            "job": work.job_id,
            "answered": work.all_answered,
            "chosen": option_on_view(work),
            "width": width,
            "height": height,
            "before": None if before is None else _address(before, "before"),
            "options": options,
        }
    )
    if wanted and lacking is not None:
        option_picture(results, lacking)
        keys = {picture_key(results, option.id) for option in document.options}
        _DRAWN.put((drawn & keys) | {picture_key(results, lacking)})
        st.rerun()


def _address(picture: bytes, place: str) -> str:
    inside = client_show.pictures_inside()
    return picture_address(picture, "image/jpeg", f"client-{place}", inside=inside)

"""Pieces taken from one photo of them laid on the floor, with the layout as an option."""

from __future__ import annotations

import hashlib

import numpy as np
import streamlit as st

from visualiser.app import under_way
from visualiser.app.fields import length, tell, tell_findings, unit_of
from visualiser.app.laying import LaidPhoto, read_laid_photo
from visualiser.app.presses import pressed
from visualiser.app.results import Results
from visualiser.app.session import Kept
from visualiser.app.state import Work
from visualiser.app.step import Picture, View
from visualiser.app.steps.wall import KINDS, SHEETS
from visualiser.app.uploads import PICTURE_KINDS, take_upload
from visualiser.errors import VisualiserError
from visualiser.laid_out.layout import LaidPiece
from visualiser.laid_out.reading import Surface
from visualiser.project.laid import with_layout

_SPOT = "laid-out"
_KIND_KEY = "laid-out-reference"
_SURFACE_KEY = "laid-out-surface"
_SURFACES: dict[Surface, str] = {"floor": "laid on the floor", "wall": "hanging on another wall"}
_PHOTO: Kept[tuple[str, bytes]] = Kept("laid-out-photo")
"""The photo that was dropped last: its digest and its file."""
_FOUND: Kept[tuple[str, LaidPhoto]] = Kept("laid-out-found")
_TROUBLE: Kept[VisualiserError] = Kept("laid-out-trouble")
"""Why nothing could be read off the photo, until it has been shown."""


def laid_out_view() -> View | None:
    """Show what was found in its photo, in the wall's place, until it is taken or put away."""
    try:
        under_way.take_outcome(_SPOT, _FOUND.put)
    except VisualiserError as error:
        _TROUBLE.put(error)
    if (found := _found()) is None:
        return None
    outlines = [
        {
            "points": [*piece.corners_px.tolist(), piece.corners_px[0].tolist()],
            "kind": "as-hung right",
            "text": str(number),
            "at": np.mean(piece.corners_px, axis=0).tolist(),
        }
        for number, piece in enumerate(found.layout.pieces, 1)
    ]
    picture = Picture(found.jpeg, found.width_px, found.height_px)
    return View(picture=picture, contours=outlines, pieces=False)


def offer_laid_out(work: Work, results: Results) -> bool:
    """Take in a photo of the pieces laid out; show what is found, to be confirmed.

    Returns
    -------
    Whether pieces have been added, so that the page is to be drawn anew.
    """
    with st.expander("From one photo of them laid out", expanded=_PHOTO.get() is not None):
        st.caption(
            "Lay the framed pieces on the floor as they might hang, a sheet of paper flat beside "
            "them, and photograph all of it from above, as squarely as you can. Or photograph "
            "them where they hang now, a sheet taped up beside them."
        )
        upload = st.file_uploader(
            "Photo of the pieces laid out", PICTURE_KINDS, max_upload_size=60, key="laid-out-upload"
        )
        beside, where = st.columns(2)
        kind = beside.selectbox(
            "Beside them",
            SHEETS,
            format_func=KINDS.__getitem__,
            key=_KIND_KEY,
        )
        surface = where.selectbox(
            "They are", list(_SURFACES), format_func=_SURFACES.__getitem__, key=_SURFACE_KEY
        )
        try:
            if take_upload(upload, _SPOT, _keep_photo):
                st.rerun()
            return _look_and_confirm(work, results, kind, surface)
        except VisualiserError as error:
            tell(error)
    return False


def _keep_photo(_name: str, data: bytes) -> None:
    _PHOTO.put((hashlib.sha256(data).hexdigest(), data))


def _asked() -> str | None:
    photo = _PHOTO.get()
    if photo is None:
        return None
    kind = st.session_state.get(_KIND_KEY, SHEETS[0])
    return f"{photo[0]}|{kind}|{st.session_state.get(_SURFACE_KEY, 'floor')}"


def _found() -> LaidPhoto | None:
    kept = _FOUND.get()
    return kept[1] if kept is not None and kept[0] == _asked() else None


def _look_and_confirm(work: Work, results: Results, kind: str, surface: Surface) -> bool:
    asked, photo = _asked(), _PHOTO.get()
    if asked is None or photo is None:
        return False
    if under_way.is_under_way(_SPOT, asked):
        under_way.watch(_SPOT, "Looking for the pieces")
        return False
    trouble = _TROUBLE.take()
    found = _found()
    if trouble is not None:
        tell(trouble)
    if found is not None:
        return _confirm(work, results, found)
    ended = trouble is not None or under_way.has_ended(_SPOT, asked)
    if not ended or pressed("Look for the pieces", width="stretch"):
        under_way.begin(_SPOT, asked, read_laid_photo, photo[1], kind, surface)
        st.rerun()
    return False


def _confirm(work: Work, results: Results, found: LaidPhoto) -> bool:
    pieces = found.layout.pieces
    numbers = {piece.id: number for number, piece in enumerate(pieces, 1)}
    names = {p.id: f"{numbers[p.id]} · {_size(work, p)}" for p in pieces}
    yours = st.pills(
        f"{len(pieces)} found, outlined in the photo. Which are yours?",
        list(names),
        format_func=names.__getitem__,
        selection_mode="multi",
        default=list(names),
        key=f"laid-out-yours-{_asked()}",
    )
    tell_findings(found.layout.findings, unit_of(work))
    added = False
    count = len(yours)
    words = f"Add {'it' if count == 1 else f'these {count}'}"
    even = False
    if results.wall_known:
        even = st.toggle("Even the gaps", key="laid-out-even", help="By the rules of this job.")
        words += ", hung as they lie"
    else:
        st.caption("Of the wall nothing is known yet: they come in without their places.")
    if pressed(words, type="primary", disabled=not yours, width="stretch"):
        survey = results.survey() if results.wall_known else None
        document, _, _ = with_layout(
            work.document, work.project.add_file, survey, found.layout, yours, even_gaps=even
        )
        work.change(document)
        added = True
    if pressed("Put the photo away", width="stretch") or added:
        _FOUND.take()
        _PHOTO.take()
        if not added:
            st.rerun()
    return added


def _size(work: Work, piece: LaidPiece) -> str:
    wide, high = piece.size_half_width_mm
    return f"{length(work, piece.width_mm, wide)} × {length(work, piece.height_mm, high)}"

"""A wall wider than one photo: several gathered, joined into one picture, and taken out again."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass

import numpy as np
import streamlit as st
from PIL import Image

from visualiser.app import under_way
from visualiser.app.child_process import say_in_child
from visualiser.app.fields import half_width, plain, tell
from visualiser.app.presses import pressed
from visualiser.app.results import Results
from visualiser.app.session import Kept
from visualiser.app.state import Work
from visualiser.app.steps.wall import KINDS, SHEETS
from visualiser.app.uploads import PICTURE_KINDS, take_uploads
from visualiser.errors import VisualiserError
from visualiser.project.contents import checked_content
from visualiser.project.joined import JoinedFiles, join_files, with_joined_photos
from visualiser.project.wall_entries import ReferenceEntry
from visualiser.rectification.joined.wall import FEWEST, MOST

_SPOT = "wide-wall"
_THUMB_PX = 360
_A_ROW = 2  # its button is cut off in a narrower column


@dataclass(frozen=True, slots=True)
class NamedPhoto:
    """A photo that was dropped: what its file is called, its content, and its content's hash."""

    name: str
    data: bytes
    digest: str


_GATHERED: Kept[tuple[str, tuple[NamedPhoto, ...]]] = Kept("wide-wall-photos")
"""A job, and the photos of its wall that are yet to be joined."""
_FRESH: Kept[int] = Kept("wide-wall-fresh")
"""How often photos have been taken from the field that they are dropped on."""


def join_in_child(contents: list[bytes], reference: ReferenceEntry) -> JoinedFiles:
    """Join files of photos in a process of its own, which says how far it is."""
    return join_files(contents, reference, say_in_child)


def offer_wide_wall(work: Work, results: Results) -> None:
    """Take several photos of one wall in, show them, and join them."""
    joined = work.document.marks.joined
    gathered = _gathered(work)
    with st.expander("A wall wider than one photo", expanded=bool(gathered or joined)):
        st.caption(
            f"Take {FEWEST} to {MOST} photos along it, the phone held one way round and not "
            "zoomed, each sharing a third with the next. A sheet must be in one of them; a second "
            "sheet at the far end makes that end surer."
        )
        try:
            _take_outcome(work, gathered)
        except VisualiserError as error:
            tell(error)  # the photos stay, to be joined otherwise
        try:
            if _take_dropped(work):
                st.rerun()
            _show(work, results, gathered)
        except VisualiserError as error:
            tell(error)


def joined_facts(work: Work, results: Results) -> bool:
    """Say how sure a joined wall is from end to end; whether the job has one."""
    joined = work.document.marks.joined
    if joined is None:
        return False
    photo, plane = results.photo(), joined.plane()
    middle = (photo.height_px - 1) / 2
    sides = np.array([[0.0, middle], [photo.width_px - 1.0, middle]])
    ends = plane.half_width(plane.to_wall(sides))
    left, right = (half_width(work, float(value)) for value in ends)
    st.markdown(
        f"Joined from {len(joined.photos)} photos. Places are good to {left} at its left end and "
        f"to {right} at its right."
    )
    return True


def _gathered(work: Work) -> tuple[NamedPhoto, ...]:
    job_id, photos = _GATHERED.get() or ("", ())
    return photos if job_id == work.job_id else ()


def _put(work: Work, photos: tuple[NamedPhoto, ...]) -> None:
    under_way.give_up(_SPOT)
    _GATHERED.put((work.job_id, photos))


def _take_dropped(work: Work) -> bool:
    uploads = st.file_uploader(
        "Photos of one wall",
        PICTURE_KINDS,
        accept_multiple_files=True,
        max_upload_size=60,
        key=f"wide-wall-{_FRESH.get() or 0}",
    )

    def keep(files: list[tuple[str, bytes]]) -> None:
        dropped = tuple(_named(name, data) for name, data in files)
        _put(work, _together(_gathered(work), dropped))

    if not take_uploads(uploads, _SPOT, keep, "Reading the photos …"):
        return False
    _FRESH.put((_FRESH.get() or 0) + 1)
    return True


def _named(name: str, data: bytes) -> NamedPhoto:
    return NamedPhoto(name, data, hashlib.sha256(data).hexdigest())


def _together(
    there: tuple[NamedPhoto, ...], more: tuple[NamedPhoto, ...]
) -> tuple[NamedPhoto, ...]:
    """Photos without those dropped twice."""
    return tuple({photo.digest: photo for photo in (*there, *more)}.values())


def _show(work: Work, results: Results, gathered: tuple[NamedPhoto, ...]) -> None:
    photos = gathered or _in_job(work)
    if not photos:
        return
    for start in range(0, len(photos), _A_ROW):
        columns = st.columns(_A_ROW)
        for column, number in zip(columns, range(start, len(photos)), strict=False):
            _show_one(column, work, results, photos, number)
    if not gathered:
        return  # these are what the wall's picture was joined from
    kind = st.selectbox(
        "On the wall, in at least one",
        SHEETS,
        index=SHEETS.index(now) if (now := work.document.marks.reference.kind) in SHEETS else 0,
        format_func=KINDS.__getitem__,
        key="wide-wall-reference",
    )
    asked = f"{kind}|{'|'.join(photo.digest for photo in gathered)}"
    if under_way.is_under_way(_SPOT, asked):
        under_way.watch(_SPOT, f"Joining {len(gathered)} photos")
        return
    join, away = st.columns(2)
    possible = FEWEST <= len(gathered) <= MOST
    words = f"Join these {len(gathered)}" if possible else f"Join {FEWEST} to {MOST} photos"
    if pressed(words, at=join, type="primary", disabled=not possible, width="stretch"):
        contents = [photo.data for photo in gathered]
        under_way.begin(_SPOT, asked, join_in_child, contents, ReferenceEntry(kind=kind))
        st.rerun()
    if pressed("Put them away", at=away, width="stretch"):
        _put(work, ())
        st.rerun()


def _show_one(
    column: st.delta_generator.DeltaGenerator,
    work: Work,
    results: Results,
    photos: tuple[NamedPhoto, ...],
    number: int,
) -> None:
    photo = photos[number]
    with column:
        try:
            small = results.kept(f"wide-wall-small|{photo.digest}", lambda: _small(photo.data))
            st.image(small, caption=f"Photo {number + 1}", width="stretch")
        except VisualiserError as error:
            st.caption(f"Photo {number + 1}: {plain(error.message)}")
        if pressed(f"Take out {number + 1}", key=f"wide-wall-out-{photo.digest}", width="stretch"):
            _put(work, tuple(one for one in photos if one != photo))
            st.rerun()


def _small(data: bytes) -> bytes:
    from visualiser.photo.decoding import load_reduced

    image = Image.fromarray(load_reduced(data, _THUMB_PX // 2).pixels)
    image.thumbnail((_THUMB_PX, _THUMB_PX))
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=80)
    return buffer.getvalue()


def _in_job(work: Work) -> tuple[NamedPhoto, ...]:
    """Photos that the job's picture was joined from."""
    joined = work.document.marks.joined
    if joined is None:
        return ()
    read = work.project.read_file
    return tuple(
        _named(entry.path.rpartition("/")[2], checked_content(entry, read))
        for entry in joined.photos
    )


def _take_outcome(work: Work, gathered: tuple[NamedPhoto, ...]) -> None:
    """Make what has been joined the job's wall, unless other photos are gathered by now."""

    def keep(outcome: tuple[str, JoinedFiles]) -> None:
        asked, joined = outcome
        kind, *digests = asked.split("|")
        if digests != [photo.digest for photo in gathered]:
            return
        reference = ReferenceEntry(kind=kind)
        document = work.document.changed(
            marks={**dict(work.document.marks), "reference": reference}
        )
        named = [(photo.name, photo.data) for photo in gathered]
        work.change(with_joined_photos(document, work.project.add_file, named, joined))
        _GATHERED.put((work.job_id, ()))

    if under_way.take_outcome(_SPOT, keep):
        st.rerun()

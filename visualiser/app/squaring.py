"""Squaring up the photo of an artwork: its corners found, corrected by hand, cut out flat."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
import streamlit as st
from PIL import Image

from visualiser.app import scene
from visualiser.app.commands import Points
from visualiser.app.dispatch import SQUARED, SQUARED_SHAPE
from visualiser.app.fields import plain, tell, tell_findings
from visualiser.app.presses import pressed
from visualiser.app.results import Results, reduced_jpeg
from visualiser.app.session import Kept
from visualiser.app.state import Work
from visualiser.app.step import Picture, View
from visualiser.app.uploads import keep_picture
from visualiser.errors import VisualiserError
from visualiser.findings import Finding
from visualiser.inventory.artwork import square_up
from visualiser.inventory.artwork_corners import find_quadrilateral
from visualiser.inventory.piece import Artwork
from visualiser.project.piece_entries import PieceEntry


@dataclass(frozen=True, slots=True)
class Squaring:
    """A picture that is being squared up, with its corners so far."""

    piece_id: str
    artwork_path: str
    found_px: Points

    @property
    def corners_px(self) -> Points:
        """Corners as dragged last, or as found."""
        moved = SQUARED.get() or ()
        return moved if len(moved) == 4 else self.found_px


_AT_WORK: Kept[Squaring] = Kept("squaring")
_SAID: Kept[tuple[Finding, ...]] = Kept("squaring-said")


def at_work(work: Work) -> Squaring | None:
    """Tell which picture is being squared up; none once its piece or its file has changed."""
    squaring = _AT_WORK.get()
    if squaring is None:
        return None
    for entry in work.document.pieces:
        if entry.id == squaring.piece_id and entry.artwork is not None:
            return squaring if entry.artwork.path == squaring.artwork_path else None
    return None


def squaring_view(work: Work, results: Results) -> View | None:
    """Show the artwork's photo with its four corners in place of the wall."""
    squaring = at_work(work)
    if squaring is None:
        return None
    entry = next(one for one in work.document.pieces if one.id == squaring.piece_id)
    assert entry.artwork is not None  # `at_work` is of this very picture

    def shown() -> tuple[bytes, int, int]:
        pixels = results.whole_artwork(squaring.piece_id).pixels
        return reduced_jpeg(pixels), pixels.shape[1], pixels.shape[0]

    picture = Picture(*results.kept(f"squaring|{results.file_key(entry.artwork)}", shown))
    shape = scene.reference_shape(np.array(squaring.corners_px), "the picture", editable=True)
    return View(shapes=[{**shape, "id": SQUARED_SHAPE}], picture=picture)


def offer_squaring(work: Work, results: Results, entry: PieceEntry) -> None:
    """Let the person cut a picture out of its photo."""
    if entry.artwork is None:
        return
    if said := _SAID.take():
        tell_findings(said)
    squaring = at_work(work)
    if squaring is None or squaring.piece_id != entry.id:
        if pressed(
            "Square up this picture",
            key=f"square-{entry.id}",
            icon=":material/crop_free:",
            help="For a photo of the artwork taken at an angle, or with its surroundings in it.",
        ):
            _begin(results, entry)
        return
    st.markdown("Drag the four corners onto the picture's own, or Tab to each and use the arrows.")
    exact = st.checkbox(
        "It fills its window exactly: take its shape from there",
        key="squaring-exact",
        help="Otherwise its shape is worked out from the perspective.",
    )
    done, left = st.columns(2)
    if pressed("Use it squared up", at=done, type="primary", width="stretch"):
        _finish(work, results, entry, squaring, exact=exact)
    if pressed("Leave it as it is", at=left, width="stretch"):
        _AT_WORK.take()
        SQUARED.take()
        st.rerun()


def _begin(results: Results, entry: PieceEntry) -> None:
    assert entry.artwork is not None
    pixels = results.whole_artwork(entry.id).pixels
    found = find_quadrilateral(pixels)
    rows, columns = pixels.shape[:2]
    if found is None:
        found = np.array([columns, rows]) * [[0.1, 0.1], [0.9, 0.1], [0.9, 0.9], [0.1, 0.9]]
        unseen = Finding(
            "advice",
            "No picture with four straight sides stands out by itself.",
            "Drag the corners to where they belong.",
        )
        _SAID.put((unseen,))
    corners = tuple((float(x), float(y)) for x, y in found)
    SQUARED.take()
    _AT_WORK.put(Squaring(entry.id, entry.artwork.path, corners))
    st.rerun()


def _finish(
    work: Work, results: Results, entry: PieceEntry, squaring: Squaring, *, exact: bool
) -> None:
    artwork = results.whole_artwork(entry.id)
    window = entry.piece(artwork).window_mm
    try:
        with st.spinner(f"Squaring up {plain(entry.name or entry.id)} …"):
            squared = square_up(
                artwork.pixels,
                np.array(squaring.corners_px),
                aspect=window[0] / window[1] if exact else None,
                name=artwork.name,
            )
            kept = keep_picture(work, "artworks", f"{entry.id}-squared", _png(squared.artwork))
    except VisualiserError as error:
        tell(error)
        return
    changed = entry.model_copy(update={"artwork": kept})
    _AT_WORK.take()
    _SAID.put(squared.findings)
    work.change(work.document.replacing(changed))
    st.rerun()


def _png(artwork: Artwork) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(artwork.pixels).save(buffer, "PNG", compress_level=3)
    return buffer.getvalue()

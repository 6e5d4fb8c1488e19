"""Colours: palettes, which piece fights the others, and what the room has to say."""

from __future__ import annotations

import io
from html import escape

import streamlit as st

from visualiser.app.fields import (
    bullets,
    held_together,
    nothing_yet,
    plain,
    shortened,
    tell,
    tell_findings,
)
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.app.step import View
from visualiser.app.uploads import PICTURE_KINDS
from visualiser.colour.coherence import SetReading, read_set
from visualiser.colour.extraction import extract_palette
from visualiser.colour.palette import Palette
from visualiser.colour.ranking import rank_candidates
from visualiser.colour.remedies import remedies
from visualiser.colour.theme import summarise
from visualiser.errors import VisualiserError
from visualiser.inventory.piece import Piece
from visualiser.photo.decoding import load_photo
from visualiser.survey.room_colours import RoomColours, room_colours
from visualiser.survey.survey import Survey


def view(_work: Work, _results: Results, _survey: Survey | None) -> View:
    """Show the pieces on the wall."""
    return View(mockup=True)


def show(work: Work, results: Results) -> None:
    """Read the palettes of the set, then try candidates against it."""
    st.caption("These are readings, not verdicts: taste stays with you.")
    pieces = [piece for piece in results.pieces() if piece.artwork is not None]
    names = [piece.called for piece in pieces]
    palettes = [
        _palette(results, piece.artwork.digest, piece.artwork.pixels)  # type: ignore[union-attr]
        for piece in pieces
    ]
    for k, (piece, palette) in enumerate(zip(pieces, palettes, strict=True)):
        with st.container(key=f"card-palette-{piece.id}"):
            picture, words = st.columns([1, 3.2])
        picture.image(_small(results, piece), width="stretch", alt=names[k])
        with words:
            _strip(names[k], palette)
            st.caption(plain(summarise(palette, palettes[:k] + palettes[k + 1 :]).sentence))
    if not pieces:
        nothing_yet("No piece has a picture yet.", "pieces", "Pieces")
    reading = read_set(palettes, names) if len(palettes) >= 2 else None
    if reading is not None:
        _set(reading, palettes, names)
    room = _room(work, results)
    _candidates(results, palettes, room)
    if pieces or room is not None:
        with st.expander("Exact names and figures"):
            _figures(palettes, names, reading, room)


def _palette(results: Results, digest: str, pixels: object) -> Palette:
    return results.kept(f"palette|{digest}", lambda: extract_palette(pixels))  # type: ignore[arg-type]


def _small(results: Results, piece: Piece) -> bytes:
    """Make an artwork small, by itself as its palette is read: without frame and mat."""
    artwork = piece.artwork
    assert artwork is not None
    return results.kept(f"small|{artwork.digest}", lambda: _thumbnail(artwork.pixels))


def _strip(name: str, palette: Palette) -> None:
    """Draw a palette as one bar, shares as widths, colours named for those who cannot see them."""
    parts = "".join(
        f'<div title="{escape(s.word)} ({escape(s.name)}) {s.hex}" '
        f'style="flex:{max(s.share, 0.03):.3f};background:{s.hex}"></div>'
        for s in palette.swatches
    )
    said = ", ".join(f"{s.word} {100 * s.share:.0f} %" for s in palette.swatches)
    st.html(
        f'<div style="font-size:.9rem;padding-bottom:2px">{escape(name)}</div>'
        f'<div role="img" aria-label="{escape(f"Palette of {name}: {said}")}" '
        'style="display:flex;height:26px;border-radius:4px;overflow:hidden">'
        f"{parts}</div>"
    )


def _set(reading: SetReading, palettes: list[Palette], names: list[str]) -> None:
    st.subheader("How they sit together")
    st.markdown(plain(reading.coherence.sentence))
    if reading.outlier is None:
        if len(palettes) >= 4:
            st.success("No piece fights the others.", icon=":material/check:")
    else:
        st.warning(plain(reading.outlier.sentence), icon=":material/palette:")
        bullets(r.sentence for r in remedies(palettes, reading.outlier.index, names)[:3])


def _figures(
    palettes: list[Palette],
    names: list[str],
    reading: SetReading | None,
    room: RoomColours | None,
) -> None:
    """List exact names and what was measured, for whoever orders paint or a mat."""
    if room is not None:
        st.markdown(f"The wall's paint: {plain(held_together(str(room.wall)))}.")
    if palettes:
        st.caption("Every colour of the pieces: ISCC–NBS names and sRGB codes.")
        rows = [
            (name, s)
            for name, palette in zip(names, palettes, strict=True)
            for s in palette.swatches
        ]
        st.table(
            {
                "Piece": [plain(shortened(name, 24)) for name, _ in rows],
                "Share": [f"{100 * s.share:.0f} %" for _, s in rows],
                "Colour": [s.word for _, s in rows],
                "Exact name": [s.name for _, s in rows],
                "Code": [s.hex for _, s in rows],
            }
        )
    if reading is None:
        return
    st.caption(
        "How far apart the pieces are, two by two: the smaller the number, the more alike. (Earth "
        "mover's distance on CIEDE2000.)"
    )
    numbered = [plain(f"{k} {shortened(name, 24)}") for k, name in enumerate(names, 1)]
    table = {
        str(k): ["–" if j == k else f"{value:.0f}" for j, value in enumerate(row, 1)]
        for k, row in enumerate(reading.distances.T, 1)
    }
    st.table({"": numbered, **table})


def _room(work: Work, results: Results) -> RoomColours | None:
    if work.document.photo is None:
        return None
    st.subheader("The room")
    try:
        photo, survey = results.photo(), results.survey()
        room = results.kept(f"room|{results.survey_key}", lambda: room_colours(photo, survey))
    except VisualiserError as error:
        tell(error)
        return None
    by_sheet = room.balance.source != "camera"
    told = "balanced by the sheet" if by_sheet else "as the camera took it"
    _strip(f"In the photo, {told}", room.palette)
    st.markdown(f"The wall's paint: {plain(room.wall.word)}.")
    st.markdown(plain(summarise(room.palette).sentence))
    tell_findings(room.findings)
    return room


def _candidates(results: Results, palettes: list[Palette], room: RoomColours | None) -> None:
    st.subheader("Would it go with them?")
    uploads = st.file_uploader(
        "Pictures to try",
        PICTURE_KINDS,
        accept_multiple_files=True,
        max_upload_size=60,
        help="They are looked at here and not kept with the job.",
    )
    tried: list[tuple[str, Palette, bytes]] = []
    for upload in uploads[:40]:
        try:
            photo = load_photo(upload.getvalue())
            palette = _palette(results, photo.digest, photo.pixels)
        except VisualiserError as error:
            tell(error)
            continue
        tried.append((upload.name, palette, _thumbnail(photo.pixels)))
    if not tried:
        return
    if not palettes and room is None:
        for name, palette, _ in tried:
            _strip(name, palette)
        return
    for rank in rank_candidates(
        [palette for _, palette, _ in tried],
        palettes,
        room.palette if room else None,
        room.wall.lab if room else None,
    ):
        name, palette, small = tried[rank.index]
        with st.container(key=f"card-tried-{rank.index}"):
            picture, words = st.columns([1, 3])
        picture.image(small, width="stretch", alt=name)
        with words:
            _strip(f"{name} · {rank.score:.0f} of 100", palette)
            st.markdown(plain(rank.sentence))


def _thumbnail(pixels: object) -> bytes:
    from PIL import Image

    image = Image.fromarray(pixels)  # type: ignore[arg-type]
    image.thumbnail((240, 240))
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=80)
    return buffer.getvalue()

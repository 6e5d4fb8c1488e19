"""Pieces as cards: each with its picture and one field for its size, as the trade writes it."""

from __future__ import annotations

import streamlit as st

from visualiser.app.fields import plain, shortened, tell, unit_of
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.errors import PieceError, VisualiserError
from visualiser.inventory.piece import Piece
from visualiser.project.piece_entries import PieceEntry
from visualiser.units import Unit, format_length, parse_size

MOST_CARDS = 24
"""Pieces shown as cards; more are seen better in the table."""
_NEW = "new-piece-size"
_EXAMPLES = {
    "mm": "619 x 495 mm",
    "cm": "61.9 x 49.5 cm",
    "m": "0.619 x 0.495 m",
    "in": "24 3/8 x 19 1/2 in",
    "ft": "2 ft 3/8 in x 1 ft 7 1/2 in",
}
"""One size, as it is typed in each unit."""


def show_cards(work: Work, results: Results) -> None:
    """Show every piece as a card, its size to be typed, and a field for one more."""
    pieces: dict[str, Piece] = {}
    try:
        pieces = {piece.id: piece for piece in results.pieces()}
    except VisualiserError as error:
        tell(error)
    if pieces:
        st.caption("Width × height of each, outside, with its frame.")
    for entry in work.document.pieces[:MOST_CARDS]:
        _card(work, results, entry, pieces.get(entry.id))
    more = len(work.document.pieces) - MOST_CARDS
    if more > 0:
        st.caption(f"{more} more are in the table.")
    _one_more(work)


def size_text(entry: PieceEntry, unit: Unit) -> str:
    """Write a piece's outside size in a unit."""
    width, height = (format_length(v, unit) for v in (entry.width_mm, entry.height_mm))
    return f"{width} × {height}"


def resized(entry: PieceEntry, typed: str, unit: Unit) -> PieceEntry:
    """Give a piece the outside size that was typed.

    Raises
    ------
    UnitError
        If it is not a width and a height.
    PieceError
        If its frame and mat leave no room in that size.
    """
    width_mm, height_mm = parse_size(typed, unit)
    values = {**dict(entry), "width_mm": width_mm, "height_mm": height_mm}
    try:
        return PieceEntry.model_validate(values)
    except ValueError as error:
        raise PieceError(
            f"{entry.name or entry.id} cannot be {typed}.",
            hint="Make it larger than its frame and mat.",
        ) from error


def _card(work: Work, results: Results, entry: PieceEntry, piece: Piece | None) -> None:
    unit = unit_of(work)
    name = plain(shortened(entry.name or entry.id, 40))
    with st.container(border=True, key=f"card-{entry.id}"):
        picture, words = st.columns([1, 2.4], vertical_alignment="center")
        if piece is not None:
            picture.image(results.face(piece), width="stretch", alt=f"{entry.name or entry.id}")
        shown = size_text(entry, unit)
        words.markdown(f"**{name}**")
        typed = words.text_input(
            f"{name}: outside width × height",
            shown,
            key=f"size-{entry.id}-{unit}-{work.generation}",
            max_chars=60,
            label_visibility="collapsed",
        )
        if typed.strip() == shown:  # what was only printed keeps its full precision
            return
        try:
            changed = resized(entry, typed, unit)
        except VisualiserError as error:
            tell(error)
            return
        if changed != entry:
            work.change(work.document.replacing(changed))
            st.rerun()


def _one_more(work: Work) -> None:
    """Let the person type the size of another piece, framed or not yet known how."""
    with st.form("one-more", clear_on_submit=True, border=False):
        typed = st.text_input(
            "Another piece: outside width × height",
            key=_NEW,
            placeholder=_EXAMPLES[unit_of(work)],
            max_chars=60,
        )
        if not st.form_submit_button("Add it", width="stretch") or not typed.strip():
            return
    used = {entry.id for entry in work.document.pieces}
    number = next(n for n in range(1, len(used) + 2) if f"p{n}" not in used)
    try:
        width_mm, height_mm = parse_size(typed, unit_of(work))
        added = PieceEntry(
            id=f"p{number}", name=f"Piece {number}", width_mm=width_mm, height_mm=height_mm
        )
        document = work.document.changed(pieces=(*work.document.pieces, added))
    except VisualiserError as error:
        tell(error)
    except ValueError:
        tell(PieceError(f"{typed} is no size a piece can have.", hint="Type 20 mm to 10 m a side."))
    else:
        work.change(document)
        st.rerun()

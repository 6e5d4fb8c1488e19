"""A piece in another size in its place, and the pieces that stay where they are."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from visualiser.app.fields import length_field, names_of, tell
from visualiser.app.presses import pressed
from visualiser.app.results import Results
from visualiser.app.state import Work, option_on_view
from visualiser.arrangement import editing
from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.editing import Bench, Edited
from visualiser.errors import PieceError, VisualiserError
from visualiser.inventory.piece import Piece
from visualiser.project.piece_entries import OptionEntry, PieceEntry


def kept_pieces(work: Work) -> frozenset[str]:
    """Ids of pieces that are to stay where they are in the option on view."""
    if not work.document.options:
        return frozenset()
    return frozenset(work.document.option(option_on_view(work)).kept)


def other_size(work: Work, results: Results, option: OptionEntry) -> None:
    """Try a piece in another size in its place; the group keeps its outline where it can."""
    names = names_of(work)
    hung = [p.piece_id for p in option.placements]
    piece_id = st.selectbox("Which piece", hung, format_func=names.__getitem__, key="resized-piece")
    entry = next(p for p in work.document.pieces if p.id == piece_id)
    left, right = st.columns(2)
    with left:
        width = length_field(
            work, "Its outside width", entry.width_mm, f"resize-w-{piece_id}", least_mm=20
        )
    with right:
        height = length_field(
            work, "Its outside height", entry.height_mm, f"resize-h-{piece_id}", least_mm=20
        )
    if width is None or height is None or (width, height) == (entry.width_mm, entry.height_mm):
        return
    if pressed(
        "Use this size",
        key=f"use-size-{entry.id}",
        width="stretch",
        help="For every option of the job.",
    ):
        try:
            changed = PieceEntry.model_validate(
                {**dict(entry), "width_mm": width, "height_mm": height}
            )
        except VisualiserError as error:
            tell(error)
            return
        except ValueError:
            tell(
                PieceError(
                    f"{names[piece_id]} cannot be that size.",
                    hint="Make it larger than its frame and mat.",
                )
            )
            return
        other = _with_artwork(results, changed)
        _carry_out(
            work,
            results,
            option,
            lambda a, b: editing.replace_piece(a, piece_id, other, b),
            changed=changed,
        )


def _with_artwork(results: Results, changed: PieceEntry) -> Piece:
    old = next(p for p in results.pieces() if p.id == changed.id)
    return changed.piece(old.artwork)


def _carry_out(
    work: Work,
    results: Results,
    option: OptionEntry,
    edit: Callable[[Arrangement, Bench], Edited],
    *,
    changed: PieceEntry | None = None,
) -> None:
    document = work.document
    try:
        bench = Bench(results.survey(), document.guidelines, kept_pieces(work))
        edited = edit(results.arrangement(option.id), bench)
    except VisualiserError as error:
        tell(error)
        return
    moved = option.model_copy(
        update={"placements": edited.arrangement.placements, "family": "by hand"}
    )
    work.change(document.replacing(moved, *([changed] if changed else [])))
    st.rerun()

"""Edits of several pieces at once, with the rules watching: named, chosen, carried out."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import streamlit as st

from visualiser.app.fields import length_field, names_of, tell
from visualiser.app.results import Results
from visualiser.app.state import Work, option_on_view
from visualiser.arrangement import editing
from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.editing import Bench, Edited
from visualiser.errors import ArrangementError, PieceError, VisualiserError
from visualiser.inventory.piece import Piece
from visualiser.project.piece_entries import OptionEntry, PieceEntry

_KEPT = "kept-pieces"

Edit = Callable[[Arrangement, Sequence[str], Bench], Edited]


def _swap(arrangement: Arrangement, ids: Sequence[str], bench: Bench) -> Edited:
    if len(ids) != 2:
        raise ArrangementError(
            f"Two pieces change places; {len(ids)} are chosen.", hint="Choose exactly two."
        )
    return editing.swap(arrangement, ids[0], ids[1], bench)


EDITS: dict[str, Edit] = {
    "Line up left edges": lambda a, i, b: editing.align(a, i, "left", b),
    "Line up right edges": lambda a, i, b: editing.align(a, i, "right", b),
    "Line up top edges": lambda a, i, b: editing.align(a, i, "top", b),
    "Line up bottom edges": lambda a, i, b: editing.align(a, i, "bottom", b),
    "Line up centres, one above another": lambda a, i, b: editing.align(a, i, "plumb centre", b),
    "Line up centres, side by side": lambda a, i, b: editing.align(a, i, "level centre", b),
    "Even out the gaps across": lambda a, i, b: editing.distribute(a, i, "across", b),
    "Even out the gaps upright": lambda a, i, b: editing.distribute(a, i, "upright", b),
    "Set the job's gap across": lambda a, i, b: editing.match_gap(a, i, "across", b),
    "Set the job's gap upright": lambda a, i, b: editing.match_gap(a, i, "upright", b),
    "Exchange two pieces": _swap,
    "Mirror left and right": lambda a, i, b: editing.mirror(a, b, i),
}
"""What can be done to the chosen pieces, by the words on the screen."""


def kept_pieces(work: Work) -> frozenset[str]:
    """Ids of pieces that are to stay where they are in the option on view."""
    if not work.document.options:
        return frozenset()
    return frozenset(work.document.option(option_on_view(work)).kept)


def edit_together(work: Work, results: Results, option: OptionEntry) -> None:
    """Let the person choose pieces and what to do to them, or try one in another size."""
    names = names_of(work)
    hung = [p.piece_id for p in option.placements]
    st.session_state[_KEPT] = [i for i in hung if i in option.kept]  # also as set on the wall
    st.multiselect(
        "Keep where they are",
        hung,
        format_func=names.__getitem__,
        key=_KEPT,
        placeholder="none",
        on_change=_keep,
        args=(work, option),
    )
    chosen = st.multiselect(
        "Pieces to arrange",
        hung,
        format_func=names.__getitem__,
        key="edited-pieces",
        placeholder="all that are not kept",
    )
    what = st.selectbox("What to do", list(EDITS), key="edit-together")
    if st.button("Do it", width="stretch", icon=":material/straighten:"):
        kept = kept_pieces(work)
        ids = chosen or [i for i in hung if i not in kept]
        _carry_out(work, results, option, lambda a, b: EDITS[what](a, ids, b))
    _other_size(work, results, option, hung, names)


def _keep(work: Work, option: OptionEntry) -> None:
    kept = tuple(st.session_state[_KEPT])
    work.change(work.document.replacing(option.model_copy(update={"kept": kept})))


def _other_size(
    work: Work, results: Results, option: OptionEntry, hung: list[str], names: dict[str, str]
) -> None:
    """Try a piece in another size in its place; the group keeps its outline where it can."""
    st.markdown("**Another size in a piece's place**")
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
    if st.button("Use this size", width="stretch", help="For every option of the job."):
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

"""Pieces: what is to be hung, as a table, with artworks and what each is made of."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast, get_args

import streamlit as st

from visualiser.app import piece_rows
from visualiser.app.fields import length_field, names_of, plain, shortened, tell, unit_of
from visualiser.app.piece_table import cell_text, table_change
from visualiser.app.results import Results
from visualiser.app.row_commands import TYPED, shown_rows, waiting_rows
from visualiser.app.session import Kept
from visualiser.app.squaring import offer_squaring, squaring_view
from visualiser.app.state import Work
from visualiser.app.step import View
from visualiser.app.steps.laid_out import laid_out_view, offer_laid_out
from visualiser.app.steps.piece_cards import MOST_CARDS, show_cards
from visualiser.app.uploads import PICTURE_KINDS, keep_picture, take_upload, take_uploads
from visualiser.errors import PieceError, VisualiserError
from visualiser.inventory.hanger import HANGERS
from visualiser.inventory.piece import FINISHES, Finish, Hanger, Mat, Moulding, PieceKind, Profile
from visualiser.inventory.piece_csv import pieces_from_csv
from visualiser.project.piece_entries import PieceEntry
from visualiser.survey.survey import Survey
from visualiser.units import Unit

NO_FRAME = "no frame"
_FRESH: Kept[int] = Kept("pieces-fresh")
"""How often the table was built anew by something else than itself."""


def view(work: Work, results: Results, _survey: Survey | None) -> View:
    """Show the pieces where they hang so far, or a picture that is being squared up."""
    return squaring_view(work, results) or laid_out_view() or View()


def show(work: Work, results: Results) -> None:
    """Show the pieces as cards or as a table, then one in detail."""
    _drop_artworks(work)
    _take_list(work)
    if offer_laid_out(work, results):
        _FRESH.put((_FRESH.get() or 0) + 1)
        st.rerun()
    many = len(work.document.pieces) > MOST_CARDS
    if st.toggle("As a table", many, key="pieces-as-table", help="For many pieces at once."):
        _table(work)
    else:
        show_cards(work, results)
    if work.document.pieces:
        with st.expander("Frame, glass and hanging of a piece"):
            _detail(work, results)


def _table(work: Work) -> None:
    unit, waiting = unit_of(work), waiting_rows(work.job_id)
    st.caption(
        "Outside sizes, as the trade writes them: 24 3/8 in, 61.9 cm or 619 mm. "
        "Another piece is begun in the last row."
    )
    rows = shown_rows(work.document, unit, waiting)
    piece_rows.mount(
        {
            "job": work.job_id,
            "answered": work.all_answered,
            "unit": unit,
            "columns": _columns(unit),
            "rows": [
                {
                    "row": row["row"],
                    "key": row["key"] or "",
                    "waits": row["row"] in {kept["row"] for kept in waiting.rows},
                    "cells": {name: cell_text(row, name) for name in TYPED},
                }
                for row in rows
            ],
        }
    )
    if problems := table_change(work.document, rows, unit).problems:
        st.warning(
            "These rows are not saved as they are typed; all the others are.\n"
            + "\n".join(f"- {plain(sentence)}" for sentence in problems)
        )


def _columns(unit: Unit) -> list[dict[str, Any]]:
    def column(name: str, label: str, em: float, chars: int = 30, told: str = "") -> dict[str, Any]:
        return {"name": name, "label": label, "em": em, "chars": chars, "help": told}

    return [
        column("name", "Title", 8, 200),
        column("width", "Width", 5.5),
        column("height", "Height", 5.5),
        column("frame", "Frame", 5.5, told="Width of the moulding."),
        column("mat", "Mat", 5.5, told="Visible at the sides."),
        column("weight", "lb" if unit == "in" else "kg", 4, told="Weight, where it is known."),
        column("id", "Mark", 5.5, 40, "Short and its own: what files and lists call it."),
    ]


def _drop_artworks(work: Work) -> None:
    uploads = st.file_uploader(
        "Drop pictures of artworks: each becomes a piece",
        PICTURE_KINDS,
        accept_multiple_files=True,
        max_upload_size=60,
        key=f"artworks-{_FRESH.get() or 0}",
    )

    def keep(files: list[tuple[str, bytes]]) -> None:
        entries, refused = list(work.document.pieces), None
        for name, data in files:
            try:
                entries.append(_piece_of_picture(work, entries, name, data))
            except VisualiserError as error:
                refused = error
        work.change(work.document.changed(pieces=tuple(entries)))
        if refused is not None:
            raise refused

    try:
        if not take_uploads(uploads, "artworks", keep, "Reading the pictures …"):
            return
    except VisualiserError as error:
        tell(error)
        return
    _FRESH.put((_FRESH.get() or 0) + 1)
    st.rerun()


def _take_list(work: Work) -> None:
    """Take pieces in from a table that a spreadsheet has saved."""
    with st.expander("Take in a list (CSV)"):
        upload = st.file_uploader(
            "List of pieces, as CSV", ["csv"], max_upload_size=2, key=f"list-{_FRESH.get() or 0}"
        )

        def keep(_name: str, data: bytes) -> None:
            listed = pieces_from_csv(data.decode("utf-8-sig", "replace"), unit_of(work))
            known = {entry.id for entry in work.document.pieces}
            if twice := [item.piece.id for item in listed if item.piece.id in known]:
                raise PieceError(
                    f"{twice[0]} is a mark of this job's already.",
                    hint="Give each piece of the list a mark of its own.",
                )
            added = tuple(PieceEntry.from_piece(item.piece) for item in listed)
            work.change(work.document.changed(pieces=(*work.document.pieces, *added)))

        try:
            if not take_upload(upload, "piece-list", keep):
                return
        except VisualiserError as error:
            tell(error)
            return
    _FRESH.put((_FRESH.get() or 0) + 1)
    st.rerun()


def _piece_of_picture(
    work: Work, entries: list[PieceEntry], file_name: str, data: bytes
) -> PieceEntry:
    from visualiser.photo.decoding import load_photo

    photo = load_photo(data)
    artwork = keep_picture(work, "artworks", file_name, data)
    used = {entry.id for entry in entries}
    number = next(n for n in range(1, len(used) + 2) if f"p{n}" not in used)
    rail, mat = 20.0, 50.0
    shown_h = 400.0
    shown_w = shown_h * photo.width_px / photo.height_px
    return PieceEntry(
        id=f"p{number}",
        name=title_of(file_name),
        width_mm=round(shown_w + 2 * (rail + mat)),
        height_mm=round(shown_h + 2 * (rail + mat)),
        moulding=Moulding(width_mm=rail),
        mat=Mat(mat, mat, mat),
        artwork=artwork,
    )


def title_of(file_name: str) -> str:
    """Make a title of a picture file's name: its words, the first with a capital."""
    stem = file_name.rpartition(".")[0] or file_name
    words = " ".join(stem.replace("_", " ").replace("-", " ").split())
    return (words[:1].upper() + words[1:])[:80]


def _detail(work: Work, results: Results) -> None:
    ids = [piece.id for piece in work.document.pieces]
    names = names_of(work)
    piece_id = st.selectbox(
        "Piece", ids, format_func=lambda key: names.get(key, key), key="detail-piece"
    )
    entry = next((p for p in work.document.pieces if p.id == piece_id), None)
    if entry is None:
        return
    try:
        _take_artwork(work, entry)
        offer_squaring(work, results, entry)
        changed = _frame(work, entry)
        changed = _hanging(work, changed)
        if changed != entry:
            _FRESH.put((_FRESH.get() or 0) + 1)
            work.change(work.document.replacing(changed))
            st.rerun()
        results.pieces()
    except VisualiserError as error:
        tell(error)


def _take_artwork(work: Work, entry: PieceEntry) -> None:
    upload = st.file_uploader(
        f"Picture of {plain(shortened(entry.name or entry.id, 40))}",
        PICTURE_KINDS,
        max_upload_size=60,
        key=f"artwork-{entry.id}",
    )

    def keep(name: str, data: bytes) -> None:
        kept = keep_picture(work, "artworks", name, data)
        work.change(work.document.replacing(entry.model_copy(update={"artwork": kept})))

    if take_upload(upload, f"artwork-{entry.id}", keep, "Reading the picture …"):
        _FRESH.put((_FRESH.get() or 0) + 1)
        st.rerun()


def _frame(work: Work, entry: PieceEntry) -> PieceEntry:
    tag = entry.id
    rail, mat = entry.moulding, entry.mat
    kind, profile, glazing = st.columns(3)
    own = [rail.finish] if rail and rail.finish not in FINISHES else []
    finishes = [NO_FRAME, *FINISHES, *own]
    finish = kind.selectbox(
        "Frame",
        finishes,
        index=finishes.index(rail.finish) if rail else 0,
        key=f"finish-{tag}-{work.generation}",
    )
    profiles: list[Profile] = ["flat", "bevelled", "rounded"]
    shape = profile.selectbox(
        "Profile",
        profiles,
        index=profiles.index(rail.profile) if rail else 0,
        key=f"profile-{tag}-{work.generation}",
    )
    glasses = ["none", "clear", "matt"]
    glass = glazing.selectbox(
        "Glazing", glasses, index=glasses.index(entry.glazing), key=f"glass-{tag}-{work.generation}"
    )
    what, pane = st.columns(2)
    is_kind = what.selectbox(
        "It is a",
        get_args(PieceKind),
        index=get_args(PieceKind).index(entry.kind),
        key=f"piece-kind-{tag}-{work.generation}",
        help="A mirror's glass is two or three times as thick as a picture's.",
    )
    with pane:
        glazing_mm = length_field(
            work,
            "Thickness of its glass",
            entry.glazing_mm,
            f"glass-thickness-{tag}",
            help_text="Left empty, the thickest usual glass counts for what may carry it: "
            "3 mm for a picture, 6 mm for a mirror.",
        )
    sides = st.columns(4)
    widths: list[float | None] = []
    for column, label, value in zip(
        sides,
        ("Frame depth", "Mat above", "Mat beside", "Mat below"),
        (
            rail.depth_mm if rail else entry.depth_mm,
            mat.top_mm if mat else None,
            mat.sides_mm if mat else None,
            mat.bottom_mm if mat else None,
        ),
        strict=True,
    ):
        with column:
            widths.append(length_field(work, label, value, f"{label}-{tag}"))
    depth, above, beside, below = widths
    if finish == NO_FRAME:
        new_rail = None
    else:
        new_rail = replace(
            rail or Moulding(),
            finish=cast(Finish, finish),
            profile=shape,
            depth_mm=depth if depth else 25.0,
        )
    given = [v for v in (above, beside, below) if v is not None]
    new_mat = None
    if given:
        first = given[0]
        new_mat = replace(
            mat or Mat(first, first, first),
            top_mm=first if above is None else above,
            sides_mm=first if beside is None else beside,
            bottom_mm=first if below is None else below,
        )
    values = {
        **dict(entry),
        "moulding": new_rail,
        "mat": new_mat,
        "glazing": glass,
        "kind": is_kind,
        "glazing_mm": glazing_mm,
    }
    return PieceEntry.model_validate(values) if values != dict(entry) else entry


def _hanging(work: Work, entry: PieceEntry) -> PieceEntry:
    kinds = list(HANGERS)
    hanger = entry.hanger
    tag = entry.id
    kind, drop, spacing = st.columns(3)
    chosen = kind.selectbox(
        "Hangs by",
        kinds,
        index=kinds.index(hanger.kind),
        format_func=lambda name: HANGERS[name].words,
        key=f"hanger-{tag}-{work.generation}",
    )
    with drop:
        drop_mm = length_field(
            work,
            "Drop to the hook",
            hanger.drop_mm,
            f"drop-{tag}",
            help_text="From the frame's top edge down to the point that bears on the hook, "
            "the wire pulled up as it hangs.",
        )
    with spacing:
        between = HANGERS[chosen].spacing
        label = "Between the rings" if chosen == "d-rings" else between[:1].upper() + between[1:]
        spacing_mm = hanger.spacing_mm
        if between:
            spacing_mm = length_field(work, label, spacing_mm, f"spacing-{tag}-{chosen}")
    attached_mm = hanger.attachment_drop_mm
    if HANGERS[chosen].bears in ("wire", "two wires"):
        attached_mm = length_field(
            work,
            "Drop to the wire's fixing points",
            attached_mm,
            f"attached-{tag}",
            help_text="From the frame's top edge down to where the wire is fixed to its back. With "
            "the drop to the hook and the distance between the fixing points it gives the wire's "
            "slope: a flat wire pulls much harder than the piece weighs.",
        )
    count, rating = st.columns(2)
    numbers = {"as usual": None, "one": 1, "two": 2}
    hooks = count.selectbox(
        "Hooks in the wall",
        list(numbers),
        index=list(numbers.values()).index(hanger.hooks),
        key=f"hooks-{tag}-{work.generation}",
        help="Two rings, plates or cords take two hooks, one wire or one sawtooth takes one.",
    )
    rated_kg = rating.number_input(
        "Its rating, kg",
        min_value=0.1,
        max_value=1000.0,
        value=hanger.rated_kg,
        key=f"rated-{tag}-{work.generation}",
        help="What the maker rates the wire for, or each ring, plate or cord with its screws.",
        placeholder="not known",
    )
    changed: Hanger = replace(
        hanger,
        kind=chosen,
        drop_mm=drop_mm,
        spacing_mm=spacing_mm,
        attachment_drop_mm=attached_mm,
        hooks=numbers[hooks],
        rated_kg=rated_kg,
    )
    return entry if changed == hanger else entry.model_copy(update={"hanger": changed})

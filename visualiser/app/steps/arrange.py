"""Arrange: proposals to choose from, and the person's own hand, with the rules watching."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

import streamlit as st

from visualiser.app import scene, under_way
from visualiser.app.fields import (
    bullets,
    length,
    length_field,
    names_of,
    nothing_yet,
    plain,
    tell,
    tell_findings,
    unit_of,
)
from visualiser.app.group_edits import edit_together, kept_pieces
from visualiser.app.options import option_picker
from visualiser.app.results import Results
from visualiser.app.session import Kept
from visualiser.app.state import Work, option_on_view
from visualiser.app.step import View
from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.errors import VisualiserError
from visualiser.project.piece_entries import OptionEntry
from visualiser.survey.survey import Survey

_PROPOSALS: Kept[tuple[str, list[Arrangement]]] = Kept("proposals")
_PROPOSING = "proposing"


def view(work: Work, _results: Results, survey: Survey | None) -> View:
    """Show the pieces to be moved, and what to keep clear of."""
    shapes = scene.survey_shapes(survey) if survey else []
    return View(shapes=shapes, mockup=True, kept=kept_pieces(work))


def show(work: Work, results: Results) -> None:
    """Choose, propose, correct."""
    if not work.document.pieces:
        nothing_yet("There is nothing to hang yet.", "pieces", "Pieces")
        return
    option_picker(work)
    if work.document.options:
        _watch(work, results)
        option = work.document.option(option_on_view(work))
        if option.placements:
            with st.expander("Edit several together"):
                edit_together(work, results, option)
        _exact_places(work)
    _propose(work, results)
    _rules(work)


def _watch(work: Work, results: Results) -> None:
    from visualiser.arrangement.rules import check_arrangement

    try:
        arrangement = results.arrangement(option_on_view(work))
        findings = check_arrangement(arrangement, results.survey(), work.document.guidelines)
    except VisualiserError as error:
        tell(error)
        return
    if arrangement.placements:
        bounds = arrangement.bounds
        st.markdown(
            f"The group is {length(work, bounds.width_mm)} × {length(work, bounds.height_mm)}; its "
            f"centre hangs {length(work, bounds.centre_mm[1])} above the floor."
        )
    tell_findings((f for f in findings if f.severity != "note"), unit_of(work))
    if all(f.severity == "note" for f in findings):
        st.markdown(":material/check: It keeps every rule of this job.")


def _exact_places(work: Work) -> None:
    option = work.document.option(option_on_view(work))
    with st.expander("Type exact places"):
        ids = [p.piece_id for p in option.placements]
        if not ids:
            return
        piece_id = st.selectbox(
            "Piece", ids, format_func=names_of(work).__getitem__, key="exact-piece"
        )
        place = next(p for p in option.placements if p.piece_id == piece_id)
        left, right = st.columns(2)
        with left:
            x = length_field(
                work, "Centre from the side", place.x_mm, f"x-{piece_id}-{place.x_mm:.3f}"
            )
        with right:
            y = length_field(
                work, "Centre above the floor", place.y_mm, f"y-{piece_id}-{place.y_mm:.3f}"
            )
        if x is not None and y is not None and (x, y) != (place.x_mm, place.y_mm):
            moved = tuple(
                Placement(piece_id, x, y) if p.piece_id == piece_id else p
                for p in option.placements
            )
            _put(work, option.model_copy(update={"placements": moved, "family": "by hand"}))
        if st.button("Remove this option", icon=":material/delete:"):
            rest = tuple(o for o in work.document.options if o.id != option.id)
            chosen = rest[0].id if rest else None
            work.change(work.document.changed(options=rest, chosen=chosen))
            st.rerun()


def _put(work: Work, option: OptionEntry) -> None:
    work.change(work.document.replacing(option))
    st.rerun()


def add_option(work: Work, arrangement: Arrangement) -> None:
    """Take an arrangement into the job as its next option, and show it."""
    document, letter = work.document.with_option(arrangement)
    work.change(document.changed(chosen=letter))


def _propose(work: Work, results: Results) -> None:
    from visualiser.arrangement.families import FAMILIES

    st.subheader("Proposals")
    families = st.multiselect(
        "Kinds of arrangement", list(FAMILIES), placeholder="all that suit", key="families"
    )
    ask, by_hand = st.columns(2)
    if ask.button("Propose", type="primary", icon=":material/grid_view:", width="stretch"):
        _ask_for_proposals(work, results, families)
    if by_hand.button("Start by hand", width="stretch", help="All pieces in one row, to move."):
        try:
            add_option(work, _in_a_row(results))
        except VisualiserError as error:
            tell(error)
        else:
            st.rerun()
    if under_way.is_under_way(_PROPOSING, results.survey_key):
        under_way.watch(_PROPOSING, "Trying arrangements")
    try:
        if outcome := under_way.take_outcome(_PROPOSING):
            _PROPOSALS.put(outcome)
    except VisualiserError as error:
        tell(error)
    kept = _PROPOSALS.get()
    if kept is None or kept[0] != results.survey_key:
        return
    for number, arrangement in enumerate(kept[1]):
        _card(work, results, arrangement, number)


def _ask_for_proposals(work: Work, results: Results, families: list[str]) -> None:
    """Start looking for arrangements beside the page; what was being looked for is given up."""
    from visualiser.arrangement.proposing import propose
    from visualiser.arrangement.setting import piece_colours

    try:
        pieces, survey = results.pieces(), results.survey()
    except VisualiserError as error:
        tell(error)
        return
    rules = work.document.guidelines
    look = partial(propose, colours=piece_colours(pieces) or None)
    asked = (look, pieces, survey, rules, families or None, 4)
    under_way.begin(_PROPOSING, results.survey_key, *asked)


def _in_a_row(results: Results) -> Arrangement:
    pieces, survey, rules = results.pieces(), results.survey(), results.document.guidelines
    width = sum(piece.width_mm for piece in pieces) + rules.gap_mm * (len(pieces) - 1)
    x = survey.outline.bounds.centre_mm[0] - width / 2
    places = []
    for piece in pieces:
        places.append(Placement(piece.id, x + piece.width_mm / 2, rules.centre_height_mm))
        x += piece.width_mm + rules.gap_mm
    return Arrangement(pieces, tuple(places), family="by hand")


def _card(work: Work, results: Results, arrangement: Arrangement, number: int) -> None:
    from visualiser.rendering.elevation import draw_elevation

    with st.container(border=True):
        hung = f"{arrangement.placements!r}|{arrangement.pieces!r}"
        key = f"small-elevation|{results.survey_key}|{hung}"
        picture = results.kept(
            key,
            lambda: draw_elevation(arrangement, results.survey(), width_px=700, dimensions=False),
        )
        name = arrangement.name or arrangement.family
        st.image(picture, width="stretch", alt=f"Proposal {number + 1}: {name}, straight on")
        left, right = st.columns([2, 1], vertical_alignment="center")
        score = f"{arrangement.score:.0f} of 100".replace(" ", "\u00a0")
        left.markdown(f"**{plain(name[:1].upper() + name[1:])}** · {score}")
        if right.button("Use this", key=f"use-{number}", width="stretch"):
            add_option(work, replace(arrangement))
            st.rerun()
        with st.expander("Why this score"):
            terms = sorted(arrangement.terms, key=lambda t: -t.weight)
            bullets((t.sentence for t in terms), unit_of(work))


def _rules(work: Work) -> None:
    rules = work.document.guidelines
    with st.expander("Rules of this job"):
        st.caption("None of these is a standard; each is meant to be changed.")
        asked: dict[str, Any] = {}
        for name, label in (
            ("gap_mm", "Gap between frames"),
            ("gap_min_mm", "Least gap"),
            ("gap_max_mm", "Widest gap"),
            ("centre_height_mm", "Height of the group's centre"),
            ("furniture_clearance_min_mm", "Least distance above furniture"),
            ("furniture_clearance_max_mm", "Greatest distance above furniture"),
            ("edge_clearance_mm", "Distance from wall ends and ceiling"),
            ("zone_clearance_mm", "Distance from zones to keep clear"),
        ):
            value = length_field(work, label, getattr(rules, name), f"rule-{name}")
            if value is not None and value != getattr(rules, name):
                asked[name] = value
        if asked:
            try:
                work.change(work.document.changed(guidelines=replace(rules, **asked)))
            except VisualiserError as error:
                tell(error)
            else:
                st.rerun()

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
    nothing_yet,
    plain,
    tell,
    tell_findings,
    unit_of,
)
from visualiser.app.following import survey_if_known
from visualiser.app.options import option_picker
from visualiser.app.presses import pressed
from visualiser.app.resizing import kept_pieces, other_size
from visualiser.app.results import Results
from visualiser.app.session import Kept, go_to_step
from visualiser.app.state import Work, option_on_view
from visualiser.app.step import View
from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.errors import VisualiserError
from visualiser.survey.survey import Survey

_PROPOSALS: Kept[tuple[str, list[Arrangement]]] = Kept("proposals")
_PROPOSING = "proposing"
_TROUBLE: Kept[VisualiserError] = Kept("proposals-trouble")
"""Why nothing could be proposed, until it has been shown."""
_COUNT = 4


def view(work: Work, results: Results, survey: Survey | None) -> View:
    """Show the pieces to be moved, what to keep clear of, and what is proposed."""
    shapes = scene.survey_shapes(survey, work.document.marks) if survey else []
    proposals = _at_hand(work, results) if survey else []
    return View(shapes=shapes, mockup=True, kept=kept_pieces(work), proposals=tuple(proposals))


def show(work: Work, results: Results) -> None:
    """Choose, propose, correct."""
    if not work.document.pieces:
        nothing_yet("There is nothing to hang yet.", "pieces", "Pieces")
        return
    option_picker(work)
    if work.document.options:
        _watch(work, results)
        st.caption(
            "Tap a piece to change it; drag it, or use the arrow keys, to move it. Shift, or a box "
            "drawn round them, chooses several."
        )
    _propose(work, results)
    if work.document.options:
        option = work.document.option(option_on_view(work))
        if option.placements:
            with st.expander("Another size in a piece's place"):
                other_size(work, results, option)
    _rules(work)
    if work.document.options:
        _remove(work)


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
            f"{length(work, bounds.width_mm)} wide × {length(work, bounds.height_mm)} high, centre "
            f"{length(work, bounds.centre_mm[1])} above the floor."
        )
    tell_findings((f for f in findings if f.severity != "note"), unit_of(work))
    if all(f.severity == "note" for f in findings):
        st.markdown(":material/check: No rule of this job is broken.")


def _remove(work: Work) -> None:
    option = work.document.option(option_on_view(work))
    if pressed(
        "Remove this option", key=f"remove-{option.id}", icon=":material/delete:", type="tertiary"
    ):
        rest = tuple(o for o in work.document.options if o.id != option.id)
        chosen = rest[0].id if rest else None
        work.change(work.document.changed(options=rest, chosen=chosen))
        st.rerun()


def add_option(work: Work, arrangement: Arrangement) -> None:
    """Take an arrangement into the job as its next option, and show it."""
    document, letter = work.document.with_option(arrangement)
    work.change(document.changed(chosen=letter))


def _asked(work: Work, results: Results) -> str:
    """All that proposals depend on."""
    document = work.document
    sizes = [(p.id, p.width_mm, p.height_mm, p.artwork) for p in document.pieces]
    return f"{results.survey_key}|{sizes}|{document.guidelines!r}|{_kept_places(work)}"


def _kept_places(work: Work) -> dict[str, tuple[float, float]]:
    """Centres of the pieces that stay where they are in the option on view."""
    if not work.document.options:
        return {}
    option = work.document.option(option_on_view(work))
    return {p.piece_id: (p.x_mm, p.y_mm) for p in option.placements if p.piece_id in option.kept}


def _at_hand(work: Work, results: Results) -> list[Arrangement]:
    """Give the proposals for the job as it is now, those that have just been found among them."""
    try:
        under_way.take_outcome(_PROPOSING, _PROPOSALS.put)
    except VisualiserError as error:
        _TROUBLE.put(error)
    kept = _PROPOSALS.get()
    return kept[1] if kept is not None and kept[0] == _asked(work, results) else []


def _propose(work: Work, results: Results) -> None:
    from visualiser.arrangement.families import FAMILIES

    st.subheader("Proposals")
    asked = _asked(work, results)
    proposals = _at_hand(work, results)
    if trouble := _TROUBLE.take():
        tell(trouble)
    if proposals:
        st.markdown(
            "They lie below the wall: rest on one to see it in place, tap it to take it."
            + (" Pieces kept in place stay there." if _kept_places(work) else "")
        )
    _unsaid_furniture(work)
    with st.expander("Kinds of arrangement"):
        families = st.multiselect(
            "Kinds of arrangement",
            list(FAMILIES),
            placeholder="all that suit",
            key="families",
            label_visibility="collapsed",
        )
    begun = under_way.is_under_way(_PROPOSING, asked)
    first = not work.document.options and not proposals and not begun and not trouble
    measured = results.wall_known and survey_if_known(results) is not None
    if first and measured and not under_way.has_ended(_PROPOSING, asked):
        begun = _ask_for_proposals(work, results, families)
    ask, by_hand = st.columns(2)
    settled = bool(proposals or work.document.options)
    if pressed(
        "Propose",
        at=ask,
        type="secondary" if settled else "primary",
        icon=":material/grid_view:",
        width="stretch",
    ):
        begun = _ask_for_proposals(work, results, families)
    if pressed(
        "Start by hand", at=by_hand, width="stretch", help="All pieces in one row, to move."
    ):
        try:
            add_option(work, _in_a_row(results))
        except VisualiserError as error:
            tell(error)
        else:
            st.rerun()
    if begun:
        under_way.watch(_PROPOSING, "Trying arrangements")
    if proposals:
        with st.expander("Why these"):
            for one in proposals:
                name = one.name or one.family
                st.markdown(f"**{plain(name[:1].upper() + name[1:])}** · {one.score:.0f} of 100")
                terms = sorted(one.terms, key=lambda t: -t.weight)
                bullets((t.sentence for t in terms), unit_of(work))


def _unsaid_furniture(work: Work) -> None:
    """Say that proposals reckon with an empty floor, until it is said what stands there."""
    marks = work.document.marks
    if work.document.photo is None or marks.furniture or marks.nothing_before_wall:
        return
    st.markdown(
        ":material/chair: Nobody has said what stands before this wall: proposals reckon with "
        "nothing there."
    )
    st.button("Mark furniture", key="mark-furniture", on_click=go_to_step, args=("wall",))


def _ask_for_proposals(work: Work, results: Results, families: list[str]) -> bool:
    """Start looking for arrangements beside the page; what was being looked for is given up."""
    from visualiser.arrangement.proposing import propose
    from visualiser.arrangement.setting import piece_colours

    try:
        pieces, survey = results.pieces(), results.survey()
    except VisualiserError as error:
        tell(error)
        return False
    rules = work.document.guidelines
    look = partial(propose, colours=piece_colours(pieces) or None, kept=_kept_places(work) or None)
    under_way.begin(
        _PROPOSING, _asked(work, results), look, pieces, survey, rules, families or None, _COUNT
    )
    return True


def _in_a_row(results: Results) -> Arrangement:
    pieces, survey, rules = results.pieces(), results.survey(), results.document.guidelines
    width = sum(piece.width_mm for piece in pieces) + rules.gap_mm * (len(pieces) - 1)
    x = survey.outline.bounds.centre_mm[0] - width / 2
    places = []
    for piece in pieces:
        places.append(Placement(piece.id, x + piece.width_mm / 2, rules.centre_height_mm))
        x += piece.width_mm + rules.gap_mm
    return Arrangement(pieces, tuple(places), family="by hand")


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

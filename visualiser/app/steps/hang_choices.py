"""Ask what the plan depends on: how the wall is built, its studs, what holds in it, any answer."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from visualiser.app.fields import length_field, plain, tell, tell_findings, unit_of
from visualiser.app.state import Work, option_on_view
from visualiser.errors import VisualiserError
from visualiser.findings import Finding
from visualiser.hanging.fixing_classes import (
    RAIL_HOOK,
    STRIPS,
    WALL_NAMES,
    WallKind,
    fixing_classes,
    wall_kind,
)
from visualiser.project.piece_entries import AnswerEntry
from visualiser.units import format_length, parse_place

_BEHIND_BOARD: tuple[WallKind, ...] = ("plasterboard", "lath and plaster", "timber")


def ask_for_wall(work: Work) -> None:
    """Ask how the wall is built until somebody says so: one tap on what it is."""
    if work.document.wall.kind != "unknown":
        return
    kind = st.pills(
        "What is the wall built of?",
        [kind for kind in WALL_NAMES if kind != "unknown"],
        format_func=lambda key: WALL_NAMES[key],
        key=f"wall-is-{work.generation}",
        help="No fixing is named until this is said.",
        wrap=True,
    )
    if kind is not None:
        wall = work.document.wall.model_copy(update={"kind": kind})
        work.change(work.document.changed(wall=wall))
        st.rerun()


def wall_choices(work: Work) -> None:
    """Let the person say how the wall is built, where its studs are, and whether it may shake."""
    kinds: tuple[WallKind, ...] = tuple(WALL_NAMES)
    kind = work.document.wall.kind
    if kind != "unknown":  # else it is asked above
        kind = st.selectbox(
            "The wall is built of",
            kinds,
            index=kinds.index(kind) if kind in kinds else 0,
            format_func=lambda key: WALL_NAMES[key],
            key=f"wall-kind-{work.generation}",
            help="No fixing is named until this is said.",
        )
    shakes = st.checkbox(
        "Earthquakes happen here",
        work.document.wall.earthquakes,
        key=f"earthquakes-{work.generation}",
        help="Only closed hooks or hangers that lock are planned then, the lower corners secured.",
    )
    wall = work.document.wall.model_copy(update={"kind": kind, "earthquakes": shakes})
    if wall != work.document.wall:
        work.change(work.document.changed(wall=wall))
        st.rerun()
    if kind in _BEHIND_BOARD:
        _studs(work)


def packet_ratings(work: Work) -> None:
    """Let the person type what the packets of the fixings at hand state, in kilograms."""
    wall = work.document.wall
    if wall.kind == "unknown":
        return
    given = dict(wall.ratings_kg)
    for fixing in (*fixing_classes(wall_kind(wall.kind)), STRIPS, RAIL_HOOK):
        typed = st.number_input(
            f"{fixing.name}, kg",
            min_value=0.0,
            max_value=1000.0,
            value=given.get(fixing.name),
            step=0.5,
            format="%.1f",
            placeholder="not known",
            key=f"rating-{fixing.name}-{work.generation}",
        )
        given.pop(fixing.name, None)
        if typed:  # a field that had a figure can't be emptied: 0 takes it back
            given[fixing.name] = typed
    st.caption(
        "What the packet states for one of them, or for one pair of strips. A quarter of it is "
        "planned with; where nothing is typed, or 0, a low usual figure."
    )
    if given != wall.ratings_kg:
        changed = wall.model_copy(update={"ratings_kg": given})
        work.change(work.document.changed(wall=changed))
        st.rerun()


def _studs(work: Work) -> None:
    marks, unit = work.document.marks, unit_of(work)
    shown = "; ".join(format_length(x, unit) for x in marks.studs_mm)
    places, apart = st.columns(2)
    typed = places.text_input(
        "Studs found, from the side",
        shown,
        key=f"studs-{unit}-{work.generation}",
        placeholder="400 mm; 800 mm",
        help="Found with a detector: their middles, measured from the side, with semicolons "
        "between; a minus sign is to the left. Without any, nothing is planned into a stud.",
        max_chars=300,
    )
    with apart:
        spacing = length_field(
            work,
            "Between their middles",
            marks.stud_spacing_mm,
            "stud-spacing",
            help_text="Where known: 400 or 600 mm, 16 or 24 in. Others then follow from one found.",
        )
    studs = marks.studs_mm
    try:
        if typed.strip() != shown:
            parts = (part for part in typed.split(";") if part.strip())
            studs = tuple(parse_place(part, unit) for part in parts)
        if studs != marks.studs_mm or spacing != marks.stud_spacing_mm:
            changed = {"studs_mm": studs, "stud_spacing_mm": spacing}
            values = {**dict(marks), **changed}
            work.change(work.document.changed(marks=type(marks).model_validate(values)))
            st.rerun()
    except (VisualiserError, ValueError) as error:
        if isinstance(error, VisualiserError):
            tell(error)
        else:
            st.error("Studs are 100 mm apart at least, and 2 m at most.")


def answer_to(work: Work, found: Sequence[Finding]) -> None:
    """Show what is dangerous, and let the person answer for it."""
    option = work.document.option(option_on_view(work))
    said = option.words_for(found)
    if not found:
        return
    st.error("Nothing is printed while a piece hangs where it can hurt somebody.")
    tell_findings(found, unit_of(work))
    words = st.text_input(
        "Why it may hang there all the same",
        said,
        key=f"answer-{option.id}-{work.generation}",
        help="In your own words: they are printed on every paper of this option. Moving a piece "
        "there asks again.",
        max_chars=200,
    )
    if words.strip() != said:
        answer = AnswerEntry.to(found, words) if words.strip() else None
        work.change(work.document.replacing(option.model_copy(update={"answer": answer})))
        st.rerun()
    if said:
        st.caption(f"Printed on the papers: “{plain(said)}”")

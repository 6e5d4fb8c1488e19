"""Mock-up: the wall as it would look, with finishes and wall colours to try."""

from __future__ import annotations

import streamlit as st

from visualiser.app import scene
from visualiser.app.downloads import file_stem, offer
from visualiser.app.fields import tell_findings
from visualiser.app.look import (
    choose_finish,
    choose_fits,
    choose_light,
    choose_wall_colour,
    outline_things,
)
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.app.steps.arrange import option_picker
from visualiser.app.wall_view import View, option_on_view
from visualiser.project.document import OptionEntry
from visualiser.survey.survey import Survey

OUTLINES = "show-outlines"


def view(work: Work, _results: Results, _survey: Survey | None) -> View:
    """Show the finished picture, with the bare wall to slide over it."""
    marks = work.document.marks
    shapes = scene.drawing_shapes(marks) if st.session_state.get(OUTLINES) else []
    return View(shapes=shapes, mockup=True, compare=True, pieces_move=not shapes)


def show(work: Work, results: Results) -> None:
    """Try finishes and colours; take the picture away at full size."""
    if not work.document.options:
        st.info("There is no arrangement yet. Make one in the step Arrange.")
        return
    option_picker(work)
    option = work.document.option(option_on_view(work))
    choose_finish(work, option)
    if work.document.photo is not None:
        choose_wall_colour(work, option)
        choose_light(work, option)
        if st.toggle("Things in front of the wall, and things to paint out", key=OUTLINES):
            outline_things(work, results)
    _take_away(work, results, option)


def _take_away(work: Work, results: Results, option: OptionEntry) -> None:
    if work.document.photo is None:
        st.caption("Without a photo the wall is drawn to scale; the approval sheet shows it.")
        return
    offer(
        "picture",
        results.option_key(option.id),
        lambda: results.full_mockup(option.id),
        label=f"the picture of option {option.id.upper()}",
        file_name=f"{file_stem(work.document.name)}-{option.id}.jpg",
        mime="image/jpeg",
        help_text="At the photo's full size.",
    )
    if work.document.option(option.id).placements and st.toggle("Show it straight on, measured"):
        st.image(
            results.straight_on(option.id),
            width="stretch",
            alt="The group seen square on, with its measures",
        )
    findings = results.mockup_findings(option.id)
    tell_findings(findings)
    ids = [i for f in findings if f.code == "print-aspect" for i in f.piece_ids]
    ids += [p.id for p in work.document.pieces if p.artwork_fit != "cut"]
    if ids:
        with st.expander("How pictures fill their windows"):
            choose_fits(work, results, ids)

"""Mock-up: the wall as it would look, with finishes and wall colours to try."""

from __future__ import annotations

from typing import Any

import streamlit as st

from visualiser.app.downloads import file_stem, offer
from visualiser.app.fields import tell_findings
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.app.steps.arrange import option_picker
from visualiser.app.steps.pieces import FINISHES
from visualiser.app.wall_view import View, option_on_view
from visualiser.project.document import OptionEntry
from visualiser.survey.survey import Survey

OWN = "each piece's own"


def view(_work: Work, _results: Results, _survey: Survey | None) -> View:
    """Show the finished picture, with the bare wall to slide over it."""
    return View(mockup=True, compare=True)


def show(work: Work, results: Results) -> None:
    """Try finishes and colours; take the picture away at full size."""
    if not work.document.options:
        st.info("There is no arrangement yet. Make one in the step Arrange.")
        return
    option_picker(work)
    option = work.document.option(option_on_view(work))
    _finish(work, option)
    _wall_colour(work, option)
    _take_away(work, results, option)


def _finish(work: Work, option: OptionEntry) -> None:
    finishes = [OWN, *FINISHES]
    chosen = st.selectbox(
        "Finish of all mouldings",
        finishes,
        index=finishes.index(option.finish) if option.finish in FINISHES else 0,
        key=f"finish-{option.id}-{work.generation}",
    )
    finish = None if chosen == OWN else chosen
    if finish != option.finish:
        _put(work, option, finish=finish)


def _wall_colour(work: Work, option: OptionEntry) -> None:
    paint = st.toggle(
        "Try another wall colour",
        option.wall_colour is not None,
        key=f"paint-{option.id}-{work.generation}",
    )
    colour = None
    if paint:
        colour = st.color_picker(
            "Wall colour",
            option.wall_colour or "#8fa39b",
            key=f"colour-{option.id}-{work.generation}",
        )
    if colour != option.wall_colour:
        _put(work, option, wall_colour=colour)


def _put(work: Work, option: OptionEntry, **values: Any) -> None:
    changed = OptionEntry.model_validate({**dict(option), **values})
    options = tuple(changed if o.id == option.id else o for o in work.document.options)
    work.change(work.document.changed(options=options))
    st.rerun()


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
    tell_findings(results.mockup_findings(option.id))

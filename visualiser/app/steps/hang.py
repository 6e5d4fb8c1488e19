"""Hang: hooks, loads and cautions; the measured plan and the templates to take to the wall."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import get_args

import streamlit as st

from visualiser.app.awake import keep_awake
from visualiser.app.downloads import file_stem, offer
from visualiser.app.fields import bullets, nothing_yet, tell_findings, unit_of
from visualiser.app.option_pictures import picture_size
from visualiser.app.options import option_picker
from visualiser.app.paper import PAPERS, paper_choice
from visualiser.app.reach import other_devices
from visualiser.app.results import Results
from visualiser.app.session import go_to_step
from visualiser.app.state import Work, option_on_view
from visualiser.app.step import View
from visualiser.app.steps.check import HOW_TO_PHOTOGRAPH, take_hung_photo
from visualiser.app.steps.hang_choices import (
    answer_to,
    ask_for_wall,
    packet_ratings,
    wall_choices,
)
from visualiser.app.steps.hang_hooks import belongs_to_hooks, hooks_on_wall, show_hooks
from visualiser.errors import VisualiserError
from visualiser.findings import Finding
from visualiser.hanging.measures import Side, measures_of
from visualiser.hanging.plan import HangingPlan, plan_hanging
from visualiser.hanging.refusals import dangers
from visualiser.project.contents import refuse_overlap
from visualiser.sizes import paper_size
from visualiser.survey.survey import Survey

_SIDE_KEY = "hang-side"


def view(work: Work, results: Results, survey: Survey | None) -> View:
    """Show the pieces as they will hang, and their hooks."""
    if survey is None or not work.document.options:
        return View(mockup=True)
    try:
        plan = _plan(work, results, st.session_state.get(_SIDE_KEY, "left"))
    except VisualiserError:  # the panel says why there is no plan
        plan = None
    if plan is None:
        return View(mockup=True)
    shapes, measures = hooks_on_wall(work, plan, survey, picture_size(results)[0])
    return View(mockup=True, shapes=shapes, contours=measures)


def show(work: Work, results: Results) -> None:
    """Plan the hanging of the option on view."""
    if not work.document.options:
        nothing_yet("There is no arrangement yet.", "arrange", "Arrange")
        return
    keep_awake()  # a phone on a ladder is read with both hands full
    option_picker(work)
    ask_for_wall(work)
    hooks_first = st.container()
    with st.expander("The wall, and where distances start"):
        wall_choices(work)
        side = _side(results)
    answer_to(work, _dangers(work, results))
    plan = _plan(work, results, side)
    if plan is None:
        return
    with hooks_first:
        show_hooks(work, plan)
    side = plan.measures.side
    unit = unit_of(work)
    tell_findings(
        (f for f in plan.findings if f.severity != "note" and not belongs_to_hooks(f, plan)), unit
    )
    st.caption(
        "Local codes and a licensed tradesperson come before anything written here. Look for "
        "cables and pipes before drilling."
    )
    _papers(work, results, plan, side)
    _on_a_phone(work)
    if plan.wall != "unknown":
        with st.expander("Ratings on the packets"):
            packet_ratings(work)
    with st.expander("What to buy"):
        lines = (
            f"{item.amount} {item.what}{f', {item.note}' if item.note else ''}"
            for item in plan.purchases
        )
        bullets(lines, unit)
    with st.expander("Notes"):
        tell_findings((f for f in plan.findings if f.severity == "note"), unit)
    st.subheader("Once it hangs")
    st.caption(HOW_TO_PHOTOGRAPH)
    if take_hung_photo(work, "hung-here"):
        go_to_step("check")
        st.rerun()


def _on_a_phone(work: Work) -> None:
    """Say how this step is opened on a phone, to be read on the ladder."""
    with st.expander("On a phone, at the wall"):
        addresses = other_devices(work.job_id, "hang")
        if not addresses:
            st.caption(
                "This program answers only this computer. Started with `visualiser app --lan` it "
                "lets a phone on the same network in, and the address to open stands here."
            )
            return
        st.caption("Open this on it: hooks ticked off there are ticked off here as well.")
        for address in addresses:
            st.code(address, language=None, wrap_lines=True)


def _side(results: Results) -> Side:
    """Let the person choose where distances across start, said as what it is in this photo."""
    survey = results.survey()
    whole = survey.outline.bounds
    sides: tuple[Side, ...] = get_args(Side)
    starts = {side: measures_of(survey, whole, side).across_from for side in sides}
    side: Side = st.radio(
        "Measure across from",
        list(starts),
        format_func=starts.__getitem__,
        horizontal=True,
        key=_SIDE_KEY,
        help="Where no corner of the wall is seen: mark the side to measure from in the step Wall.",
    )
    return side


def _dangers(work: Work, results: Results) -> Sequence[Finding]:
    arrangement = results.arrangement(option_on_view(work))
    refuse_overlap(arrangement.rects())
    return dangers(arrangement, results.survey(), work.document.guidelines)


def _plan(work: Work, results: Results, side: Side) -> HangingPlan | None:
    """Plan the option on view; None while something dangerous is not answered for."""
    document = work.document
    option_id = option_on_view(work)
    found = _dangers(work, results)
    said = document.option(option_id).words_for(found)
    if found and not said:
        return None
    arrangement, survey = results.arrangement(option_id), results.survey()
    wall, studs, rules = document.wall, document.marks.studs(), document.guidelines
    key = f"plan|{results.option_key(option_id)}|{wall}|{studs}|{side}|{rules}"
    return results.kept(
        key,
        lambda: plan_hanging(
            arrangement,
            survey,
            wall.kind,
            side=side,
            ratings_kg=wall.ratings_kg,
            seismic=wall.earthquakes,
            studs=studs,
            guidelines=rules,
            accepted=said,
        ),
    )


def _papers(work: Work, results: Results, plan: HangingPlan, side: Side) -> None:
    from visualiser.app.papers import papers_zip
    from visualiser.printing.hanging_plan import plan_pdf
    from visualiser.printing.templates import templates_pdf

    st.subheader("Take to the wall")
    paper = paper_choice(work, list(PAPERS), "hang-paper")
    size = paper_size(paper)
    stem = file_stem(work.document.name)
    wall, studs = work.document.wall, work.document.marks.studs()
    asked = f"{results.option_key(option_on_view(work))}|{wall}|{studs}|{side}|{paper}"
    offer(
        "papers",
        asked,
        lambda: partial(papers_zip, plan, size, work.document.name, stem),
        label="the plan and the templates",
        file_name=f"{stem}-papers.zip",
        mime="application/zip",
        help_text="Both as one zip.",
        first=True,
    )
    offer(
        "plan",
        asked,
        lambda: partial(plan_pdf, plan, size, work.document.name),
        label="the measured plan",
        file_name=f"{stem}-plan.pdf",
        mime="application/pdf",
        help_text="The wall to scale, hooks, tape border, cuts, shopping list and cautions.",
    )
    offer(
        "templates",
        asked,
        lambda: partial(templates_pdf, plan, size, title=work.document.name),
        label="templates at true size",
        file_name=f"{stem}-templates.pdf",
        mime="application/pdf",
        help_text="One for every piece, tiled on the paper chosen. Print at 100 %.",
    )

"""Approve: the options side by side for the client, and everything to send or keep."""

from __future__ import annotations

import datetime
from functools import partial

import streamlit as st

from visualiser.app.downloads import file_stem, offer
from visualiser.app.fields import length, nothing_yet, plain, tell
from visualiser.app.paper import paper_choice
from visualiser.app.presses import pressed
from visualiser.app.results import Results
from visualiser.app.state import Work, option_on_view
from visualiser.app.step import View
from visualiser.app.steps.client import show_client
from visualiser.errors import VisualiserError
from visualiser.hanging.refusals import dangers, refuse_dangers
from visualiser.printing.approval import ApprovalOption, ApprovalSheet, approval_pdf
from visualiser.printing.approval_pictures import approval_png, group_palette
from visualiser.project.contents import refuse_overlap
from visualiser.project.exchange import export_zip
from visualiser.project.piece_entries import OptionEntry
from visualiser.sizes import paper_size
from visualiser.survey.survey import Survey


def view(_work: Work, _results: Results, _survey: Survey | None) -> View:
    """Show the option that is up for approval."""
    return View(mockup=True, compare=True)


def show(work: Work, results: Results) -> None:
    """Compare the options, choose one, and make the papers."""
    document = work.document
    if not document.options:
        nothing_yet("There is no arrangement to approve yet.", "arrange", "Arrange")
    else:
        try:
            show_client(work, results)
            st.caption("The client chooses there, or on the page that you send; or choose here.")
        except VisualiserError as error:
            tell(error)
    for option in document.options:
        try:
            _option(work, results, option)
        except VisualiserError as error:
            tell(error)
    st.subheader("To send or keep")
    stem = file_stem(document.name)
    if document.options:
        _sheet(work, results, stem)
    if document.options and document.photo is not None:
        option_id = option_on_view(work)
        offer(
            "picture",
            results.option_key(option_id),
            lambda: results.full_mockup(option_id),
            label=f"the picture of option {(option_id or '').upper()}",
            file_name=f"{stem}-{option_id}.jpg",
            mime="image/jpeg",
            help_text="At the photo's full size, without its private data.",
        )
    offer(
        "job",
        document.model_dump_json(),
        lambda: export_zip(work.project),
        label="the whole job as a zip",
        file_name=f"{stem}.zip",
        mime="application/zip",
        help_text="Photo, artworks and arrangement, to open on another computer. Where the photo "
        "was taken, by whom and with which camera number is left out. HEIC, WebP and TIFF "
        "pictures are packed as PNG, without loss.",
    )


def _sheet(work: Work, results: Results, stem: str) -> None:
    """Offer the sheet that the client signs, as pages and as one picture."""
    today = datetime.date.today().isoformat()
    asked = f"{work.document.model_dump_json()}|{today}"
    paper = paper_choice(work, ["a4", "letter"], "paper")
    offer(
        "approval",
        f"{asked}|{paper}",
        lambda: partial(approval_pdf, _approval(work, results, today), paper_size(paper)),
        label="the approval sheet",
        file_name=f"{stem}-approval.pdf",
        mime="application/pdf",
        help_text="All options at one scale, with a place for remarks and a signature.",
    )
    offer(
        "approval-picture",
        asked,
        lambda: partial(approval_png, _approval(work, results, today)),
        label="the options as one picture",
        file_name=f"{stem}-options.png",
        mime="image/png",
    )


def _approval(work: Work, results: Results, today: str) -> ApprovalSheet:
    document, survey = work.document, results.survey()
    options = []
    for option in document.options:
        arrangement = results.arrangement(option.id)
        refuse_overlap(arrangement.rects())
        found = dangers(arrangement, survey, document.guidelines)
        said = option.words_for(found)
        refuse_dangers(found, said)
        drawn = results.preview_pixels(option.id) if document.photo is not None else None
        options.append(ApprovalOption(arrangement, drawn, group_palette(arrangement), said))
    title = document.name or "Picture group"
    return ApprovalSheet(survey, tuple(options), title, today, str(document.revision))


def _option(work: Work, results: Results, option: OptionEntry) -> None:
    arrangement = results.arrangement(option.id)
    with st.container(border=True):
        words, button = st.columns([2, 1], vertical_alignment="center")
        name = plain(option.name or option.family)
        chosen = option.id == option_on_view(work)
        words.markdown(f"**{option.id.upper()} · {name}**")
        if arrangement.placements:
            bounds, count = arrangement.bounds, len(arrangement.placements)
            words.caption(
                f"{count} piece{'' if count == 1 else 's'}, {length(work, bounds.width_mm)} wide × "
                f"{length(work, bounds.height_mm)} high, centre "
                f"{length(work, bounds.centre_mm[1])} above the floor"
            )
        if chosen:
            button.markdown(":material/check: Chosen")
        elif pressed("Choose", at=button, key=f"choose-{option.id}", width="stretch"):
            work.change(work.document.changed(chosen=option.id))
            st.rerun()

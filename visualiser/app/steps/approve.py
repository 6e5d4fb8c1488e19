"""Approve: the options side by side for the client, and everything to send or keep."""

from __future__ import annotations

import streamlit as st

from visualiser.app.downloads import file_stem, offer
from visualiser.app.fields import length, plain, tell
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.app.wall_view import View, option_on_view
from visualiser.errors import VisualiserError
from visualiser.project.document import OptionEntry
from visualiser.project.exchange import export_zip
from visualiser.survey.survey import Survey


def view(_work: Work, _results: Results, _survey: Survey | None) -> View:
    """Show the option that is up for approval."""
    return View(mockup=True, compare=True)


def show(work: Work, results: Results) -> None:
    """Compare the options, choose one, and make the papers."""
    document = work.document
    if not document.options:
        st.info("There is no arrangement to approve yet. Make one in the step Arrange.")
    for option in document.options:
        try:
            _option(work, results, option)
        except VisualiserError as error:
            tell(error)
    st.subheader("To send or keep")
    stem = file_stem(document.name)
    if document.options and document.photo is not None:
        option_id = option_on_view(work)
        offer(
            "picture",
            results.option_key(option_id),
            lambda: results.full_mockup(option_id)[0],
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
        "was taken, by whom and with which camera number is left out.",
    )


def _option(work: Work, results: Results, option: OptionEntry) -> None:
    arrangement = results.arrangement(option.id)
    with st.container(border=True):
        words, button = st.columns([2, 1], vertical_alignment="center")
        name = plain(option.name or option.family)
        chosen = option.id == option_on_view(work)
        words.markdown(f"**{option.id.upper()} · {name}**{'  · on view' if chosen else ''}")
        if arrangement.placements:
            bounds = arrangement.bounds
            words.caption(
                f"{len(arrangement.placements)} pieces, {length(work, bounds.width_mm)} × "
                f"{length(work, bounds.height_mm)}, centre {length(work, bounds.centre_mm[1])} "
                "above the floor"
            )
        if button.button("Choose", key=f"choose-{option.id}", disabled=chosen, width="stretch"):
            work.change(work.document.changed(chosen=option.id))
            st.rerun()

"""Where the floor is, and what distances across start from: typed, marked, or found."""

from __future__ import annotations

import streamlit as st

from visualiser.app.fields import length, length_field
from visualiser.app.following import survey_if_known
from visualiser.app.marking import change_marks
from visualiser.app.presses import pressed
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.app.steps.wall_marks import photo_size
from visualiser.statistics import COVERAGE_95


def say_floor(work: Work, results: Results) -> None:
    """Say where the floor was found, or ask for it: typed, or marked in the photo."""
    marks = work.document.marks
    known = marks.reference_height_mm is not None or bool(marks.floor_px)
    survey = survey_if_known(results)
    if not known and survey is not None and survey.floor_known and survey.plane is not None:
        known = True
        lower = survey.to_wall(survey.plane.reference_corners_px)[2:4, 1].mean()
        height = length(work, float(lower), COVERAGE_95 * survey.floor_sigma_mm)
        st.markdown(
            f"The floor is read off the skirting's foot: {height} below the sheet's lower edge. "
            "Measured with a tape it is surer."
        )
    if not known:
        st.subheader("Where is the floor?")
    with st.expander("Floor and side") if known else st.container():
        _floor_and_side(work, results)


def _floor_and_side(work: Work, results: Results) -> None:
    marks = work.document.marks
    height = length_field(
        work,
        "Height of the sheet's lower edge above the floor",
        marks.reference_height_mm,
        "sheet-height",
        help_text="Measured with a tape, to the page's lowest edge. Or mark where the wall meets "
        "the floor.",
    )
    if height != marks.reference_height_mm:
        change_marks(work, reference_height_mm=height)
    left, right = st.columns(2)
    width_px, height_px = photo_size(results)
    if marks.floor_px:
        if pressed("Remove floor line", at=left, width="stretch"):
            change_marks(work, floor_px=())
    elif pressed(
        "Mark the floor line", at=left, width="stretch", help="Where the wall meets the floor."
    ):
        y = 0.9 * height_px
        change_marks(work, floor_px=((0.3 * width_px, y), (0.7 * width_px, y)))
    if marks.side_px is not None:
        if pressed("Remove side mark", at=right, width="stretch"):
            change_marks(work, side_px=None)
    elif pressed(
        "Mark the side", at=right, width="stretch", help="What distances across start from."
    ):
        change_marks(work, side_px=(0.1 * width_px, 0.5 * height_px))

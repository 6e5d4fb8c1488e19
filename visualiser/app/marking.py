"""Marks of the wall as a panel changes them: saved with the job, and the page drawn anew."""

from __future__ import annotations

from typing import Any

import streamlit as st

from visualiser.app.state import Work
from visualiser.project.wall_entries import MarksEntry


def change_marks(work: Work, **values: Any) -> None:
    """Save other marks with the job, and draw the page anew."""
    marks = MarksEntry.model_validate({**dict(work.document.marks), **values})
    work.change(work.document.changed(marks=marks))
    st.rerun()

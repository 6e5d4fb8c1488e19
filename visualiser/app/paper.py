"""The paper that documents of a job are made for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import assert_never

import streamlit as st

from visualiser.app.fields import unit_of
from visualiser.app.state import Work
from visualiser.rectification.kinds import TARGETS, make_of
from visualiser.sizes import US_SHEETS

PAPERS = {"a4": "A4", "letter": "Letter", "a3": "A3", "tabloid": "Tabloid"}


def usual_paper(work: Work) -> str:
    """Name the paper that is likely at hand: the kind on the wall, or what goes with the unit."""
    kind = work.document.marks.reference.kind
    make = make_of(kind)
    match make:
        case "sheet" | "target":
            return "letter" if TARGETS.get(kind, kind) in US_SHEETS else "a4"
        case "card" | "marker" | "rectangle":
            return "letter" if unit_of(work) == "in" else "a4"
        case _:
            assert_never(make)


def paper_choice(work: Work, papers: Sequence[str], key: str) -> str:
    """Let the person choose the paper; the one likely at hand is chosen first."""
    return st.selectbox(
        "Paper",
        papers,
        index=papers.index(usual_paper(work)),
        format_func=PAPERS.__getitem__,
        key=key,
    )

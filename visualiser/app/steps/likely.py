"""What the photo probably shows that must stay clear, for a person to accept."""

from __future__ import annotations

from typing import Any

import streamlit as st

from visualiser.app.fields import length, plain
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.project.document import FurnitureEntry, ZoneEntry
from visualiser.survey.suggestions import Suggestion, suggest_zones


def likely_obstacles(work: Work, results: Results) -> dict[str, Any]:
    """Offer what was seen to be kept clear of.

    Returns
    -------
    Changes to the marks, once the person accepts something; else none.
    """
    if not st.toggle("Look for switches, sockets, doors and furniture", key="look-for-likely"):
        return {}
    survey, photo = results.survey(), results.photo()
    if not survey.floor_known:
        st.info("Heights tell what is what: say where the floor is first.")
        return {}
    seen = results.kept(f"likely|{results.survey_key}", lambda: suggest_zones(photo, survey))
    if not seen:
        st.caption("Nothing more stands out. Look for yourself: much does not.")
    marks = work.document.marks
    for index, one in enumerate(seen):
        text, button = st.columns((3, 1), vertical_alignment="center")
        width = length(work, one.bounds.width_mm, one.half_width_mm(survey))
        text.markdown(plain(f"{_name(one)}, {width} wide. {one.why}"))
        if button.button(f"Add {index + 1}", key=f"likely-{index}", width="stretch"):
            points = tuple((float(x), float(y)) for x, y in one.corners_px(survey))
            if one.stands:
                stands = FurnitureEntry.model_validate({"kind": "other", "points_px": points})
                return {"furniture": (*marks.furniture, stands)}
            zone = ZoneEntry.model_validate({"kind": one.what.kind, "points_px": points})
            return {"zones": (*marks.zones, zone)}
    return {}


def _name(one: Suggestion) -> str:
    return "Perhaps furniture" if one.stands else f"Perhaps a {one.what.kind}"

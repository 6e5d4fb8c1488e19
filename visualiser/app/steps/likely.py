"""What the photo probably shows that must stay clear, for a person to accept."""

from __future__ import annotations

from typing import Any

import numpy as np
import streamlit as st

from visualiser.app.fields import half_width, lengths_in, plain, unit_of
from visualiser.app.presses import pressed
from visualiser.app.results import Results
from visualiser.app.scene import Shape
from visualiser.app.session import Kept
from visualiser.app.state import Work
from visualiser.project.wall_entries import FurnitureEntry, MarksEntry, ZoneEntry
from visualiser.survey.suggestions import Suggestion, suggest_zones
from visualiser.survey.survey import Survey

_LOOK = "look-for-likely"
_SEEN: Kept[tuple[str, tuple[Suggestion, ...]]] = Kept("likely-seen")
"""What the wall was looked through for, and what was seen."""
_DISMISSED: Kept[frozenset[tuple[float, ...]]] = Kept("likely-dismissed")
"""What the person said is not there, by its rectangle."""


def likely_obstacles(work: Work, results: Results) -> dict[str, Any]:
    """Offer what was seen to be kept clear of.

    Returns
    -------
    Changes to the marks, once the person accepts something; else none.
    """
    survey, photo = results.survey(), results.photo()
    if not survey.floor_known:
        st.caption(
            "Once the floor is known, the photo is looked through for switches, sockets and "
            "furniture: their heights tell them apart."
        )
        return {}
    if not st.toggle(
        "Look for switches, sockets, radiators, windows, doors and furniture", True, key=_LOOK
    ):
        return {}
    bare = results.bare_survey()
    with st.spinner("Looking for what must stay clear …"):
        every = results.kept(
            f"likely|{results.bare_survey_key}", lambda: suggest_zones(photo, bare)
        )
    known = [z.polygon.bounds for z in survey.zones] + [f.rect for f in survey.furniture]
    gone = _DISMISSED.get() or frozenset()
    seen = tuple(
        one
        for one in every
        if not any(one.bounds.overlaps(rect) for rect in known) and _rect_key(one) not in gone
    )
    shown = _SEEN.get()
    if shown is None or shown != (results.survey_key, seen):
        _SEEN.put((results.survey_key, seen))
        st.rerun()  # the wall view is above and has been shown already
    if not seen:
        st.caption("Nothing more stands out. Look for yourself: not everything does.")
    else:
        st.caption("Outlined in the photo: tap what is right to take it, or say so here.")
    marks = work.document.marks
    if len(seen) > 1 and pressed(f"All {len(seen)} are right", key="likely-all", width="stretch"):
        return _with(marks, seen, survey)
    for index, one in enumerate(seen):
        text = st.container()
        button, dismiss = st.columns(2)
        if dismiss.button(f"{index + 1} is not", key=f"dismiss-{index}", width="stretch"):
            _DISMISSED.put(gone | {_rect_key(one)})
            st.rerun()
        why = lengths_in(one.why, unit_of(work))
        good_to = half_width(work, one.half_width_mm(survey))
        text.markdown(plain(f"{index + 1}: {_name(one)}, its width good to {good_to}. {why}"))
        if button.button(f"{index + 1} is right", key=f"likely-{index}", width="stretch"):
            return _with(marks, (one,), survey)
    return {}


def _with(marks: MarksEntry, taken: tuple[Suggestion, ...], survey: Survey) -> dict[str, Any]:
    """Add what was seen to what is marked."""
    zones, furniture = list(marks.zones), list(marks.furniture)
    for one in taken:
        points = tuple((float(x), float(y)) for x, y in one.corners_px(survey))
        if one.stands:
            furniture.append(FurnitureEntry.called("other", points_px=points))
        else:
            entry = {"kind": one.what.kind, "points_px": points}
            zones.append(ZoneEntry.model_validate(entry))
    return {"zones": tuple(zones), "furniture": tuple(furniture)}


def furniture_is_offered(results: Results) -> bool:
    """Check whether something that stands before the wall is up for an answer."""
    kept = _SEEN.get()
    if kept is None or kept[0] != results.survey_key or not st.session_state.get(_LOOK, True):
        return False
    return any(one.stands for one in kept[1])


def likely_shapes(results: Results, survey: Survey | None) -> list[Shape]:
    """Outline in the photo what is offered, by the numbers it is offered under."""
    kept = _SEEN.get()
    if not st.session_state.get(_LOOK, True) or survey is None or kept is None:
        return []
    if kept[0] != results.survey_key:
        return []
    return [
        {
            "id": f"likely-{index}",
            "kind": "likely",
            "label": f"{index}: {_name(one).lower()}",
            "points": np.round(one.corners_px(survey), 2).tolist(),
            "closed": True,
            "editable": False,
            "offer": {"stands": one.stands, "name": "other" if one.stands else one.what.kind},
        }
        for index, one in enumerate(kept[1], 1)
    ]


def _rect_key(one: Suggestion) -> tuple[float, ...]:
    rect = one.bounds
    return tuple(round(v) for v in (rect.left_mm, rect.bottom_mm, rect.width_mm, rect.height_mm))


def _name(one: Suggestion) -> str:
    return "Perhaps furniture" if one.stands else f"Perhaps a {one.what.kind}"

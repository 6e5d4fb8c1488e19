"""The wall view: the photo with its marks, measures and pieces, to look at and to work on.

Plain JavaScript, SVG and CSS, sent along with the page: nothing to build, nothing to fetch. What
it shows is decided by ``Scene``; what the person does comes back as an edit on release.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from functools import cache
from importlib import resources
from typing import Any

import streamlit as st

KEY = "wall_view"
SCRIPTS = (
    "mapping.js",
    "snapping.js",
    "focus.js",
    "waiting.js",
    "pictures.js",
    "stage.js",
    "pieces.js",
    "shapes.js",
    "view.js",
)


@cache
def _asset(name: str) -> str:
    return (resources.files(__name__) / name).read_text("utf-8")


def mount(data: dict[str, Any], on_edit: Callable[[], None]) -> None:
    """Show the wall view at this place of the page.

    Parameters
    ----------
    data
        A scene, see ``visualiser.app.scene``.
    on_edit
        Called when the person has changed something; ``last_edit`` tells what.
    """
    wall_view = st.components.v2.component(
        "visualiser.wall_view",
        html=_asset("view.html"),
        css=_asset("view.css"),
        js="\n".join(_asset(name) for name in SCRIPTS),
    )
    # A message that comes out the same is not sent, and a busy browser may handle two in the wrong
    # order: the time makes each another, and tells which is the later.
    data = {**data, "made_us": time.time_ns() // 1000}
    wall_view(key=KEY, data=data, on_edit_change=on_edit, on_lost_change=lambda: None)


def last_edit() -> dict[str, Any]:
    """Tell what the person did last, as the browser sent it: not to be trusted unchecked."""
    edit = _told().get("edit")
    return dict(edit) if isinstance(edit, dict) else {}


def pictures_inside() -> bool:
    """Tell whether pictures must come inside the messages, as their addresses are not answered."""
    lost = _told().get("lost")
    return isinstance(lost, Mapping) and bool(lost.get("inside"))


def _told() -> Mapping[str, Any]:
    """Give what the browser has told of the view so far."""
    state: Mapping[str, Any] | None = st.session_state.get(KEY)
    return state if state is not None else {}

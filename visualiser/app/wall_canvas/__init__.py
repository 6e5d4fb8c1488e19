"""The wall view: the photo with its marks, measures and pieces, to look at and to work on.

JavaScript modules, SVG and CSS, sent along with the page: nothing to build, nothing to fetch. What
it shows is decided by ``Scene``; what the person does goes into the page's outbox on release.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import Any

import streamlit as st

from visualiser.app.scripts import asset, joined

KEY = "wall_view"


def mount(data: dict[str, Any]) -> None:
    """Show the wall view at this place of the page.

    Parameters
    ----------
    data
        A scene, see ``visualiser.app.scene``.
    """
    wall_view = st.components.v2.component(
        "visualiser.wall_view",
        html=asset("wall_canvas/view.html"),
        css=asset("wall_canvas/view.css"),
        js=joined("wall_canvas/view.js"),
    )
    # A message that comes out the same is not sent, and a busy browser may handle two in the wrong
    # order: the time makes each another, and tells which is the later.
    data = {**data, "made_us": time.time_ns() // 1000}
    wall_view(key=KEY, data=data, on_lost_change=lambda: None)


def pictures_inside() -> bool:
    """Check whether pictures must come inside the messages, as their addresses are not answered."""
    lost = _told().get("lost")
    return isinstance(lost, Mapping) and bool(lost.get("inside"))


def _told() -> Mapping[str, Any]:
    """Give what the browser has sent of the view so far."""
    state: Mapping[str, Any] | None = st.session_state.get(KEY)
    return state if state is not None else {}

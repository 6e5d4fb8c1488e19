"""What the client is shown: the options over the whole screen, nothing but pictures and names.

Which option the client taps goes into the page's outbox, like whatever else hands do.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from visualiser.app.scripts import asset, joined

KEY = "client_show"


def mount(data: dict[str, Any]) -> None:
    """Offer the show at this place of the page.

    Parameters
    ----------
    data
        The ``job``, what is ``answered`` and ``chosen``, ``width`` and ``height`` of the pictures,
        the address of the wall ``before`` or None, and the ``options``: each its ``id``, ``name``
        and the address of its ``picture``, or None while that is being drawn.
    """
    show = st.components.v2.component(
        "visualiser.client_show",
        html=asset("client_show/show.html"),
        css=asset("client_show/show.css"),
        js=joined("client_show/show.js"),
    )
    show(key=KEY, data=data, on_asked_change=lambda: None)


def is_asked_for() -> bool:
    """Check whether the show has been opened, so that its pictures are wanted."""
    return bool(_asked())


def pictures_inside() -> bool:
    """Check whether pictures must come inside the messages, as their addresses are not answered."""
    return bool(_asked().get("inside"))


def _asked() -> Mapping[str, Any]:
    state: Mapping[str, Any] | None = st.session_state.get(KEY)
    asked = state.get("asked") if state is not None else None
    return asked if isinstance(asked, Mapping) else {}

"""Unit, undo, redo and the outbox: what hands did, in numbered commands, until each is answered.

The outbox belongs to the page and not to the wall view, so that it outlives a change of step. Its
module is part of the wall view as well, which takes what is not answered yet into account.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from visualiser.app.news import draw_anew
from visualiser.app.scripts import asset, joined

KEY = "command_bar"


def mount(data: dict[str, Any], on_outbox: Callable[[], None], on_step: Callable[[], None]) -> None:
    """Show the bar at this place of the page.

    Parameters
    ----------
    data
        ``job``, its number of the last save as ``saved``, what ``answered`` holds by hand,
        ``can_undo``, ``can_redo``, the ``step``, the ``unit`` of length and the ``units`` to choose
        from.
    on_outbox
        Called when the browser has sent its commands; ``sent_outbox`` gives them.
    on_step
        Called when the person went back or forth in the browser; ``step_gone_to`` gives where.
    """
    bar = st.components.v2.component(
        "visualiser.command_bar",
        html=asset("command_bar/bar.html"),
        css=asset("command_bar/bar.css"),
        js=joined("command_bar/bar.js"),
    )
    bar(
        key=KEY,
        data=data,
        on_outbox_change=on_outbox,
        on_step_change=on_step,
        on_news_change=draw_anew,
    )


def mount_typing() -> None:
    """Have names count as typed on a page that has no bar."""
    typing = st.components.v2.component(
        "visualiser.typing",
        html="<span hidden></span>",
        js=joined("command_bar/names_only.js"),
    )
    typing(key="typing")


def sent_outbox() -> Any:
    """Give what the browser sent last: not to be trusted unchecked."""
    sent = _sent("outbox")
    return dict(sent) if isinstance(sent, Mapping) else None


def step_gone_to() -> str | None:
    """Give the step that the person went back or forth to, unchecked."""
    sent = _sent("step")
    step = sent.get("to") if isinstance(sent, Mapping) else None
    return step if isinstance(step, str) else None


def _sent(name: str) -> Any:
    state: Mapping[str, Any] | None = st.session_state.get(KEY)
    return None if state is None else state.get(name)

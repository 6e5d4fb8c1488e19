"""Long work on the page: begun, watched, stopped, and its outcome taken once.

Each spot of the page has at most one piece of work under way, and knows what it was asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import streamlit as st

from visualiser.app.aside import Aside, set_aside
from visualiser.errors import VisualiserError


def begin(spot: str, asked: str, function: Callable[..., Any], *arguments: Any) -> None:
    """Start work beside the page; what was under way at this spot is given up.

    Parameters
    ----------
    spot
        Name of the place on the page.
    asked
        All that the work depends on, as text.
    function, arguments
        As for ``set_aside``.
    """
    give_up(spot)
    st.session_state.pop(_ended(spot), None)
    st.session_state[_under_way(spot)] = (asked, set_aside(function, *arguments))


def give_up(spot: str) -> None:
    """End what is under way at a spot, if anything is."""
    if kept := st.session_state.pop(_under_way(spot), None):
        kept[1].stop()


def is_under_way(spot: str, asked: str) -> bool:
    """Tell whether that very thing is being worked on."""
    kept = st.session_state.get(_under_way(spot))
    return kept is not None and kept[0] == asked


def has_ended(spot: str, asked: str) -> bool:
    """Tell whether that very thing was stopped or failed, so that it is not begun by itself."""
    return bool(st.session_state.get(_ended(spot)) == asked)


@st.fragment(run_every=0.5)
def watch(spot: str, words: str) -> None:
    """Say what is being done and for how long, until it is done or no longer wanted."""
    kept: tuple[str, Aside] | None = st.session_state.get(_under_way(spot))
    if kept is None:
        return
    asked, aside = kept
    if not aside.done:
        told, button = st.columns([2, 1], vertical_alignment="center")
        told.markdown(f"{words} … {aside.seconds:.0f} s")
        if button.button("Stop", key=f"stop-{spot}", width="stretch"):
            give_up(spot)
            st.session_state[_ended(spot)] = asked
            st.rerun()
        return
    st.session_state.pop(_under_way(spot))
    try:
        st.session_state[_outcome(spot)] = (asked, aside.result(), None)
    except VisualiserError as error:
        st.session_state[_ended(spot)] = asked
        st.session_state[_outcome(spot)] = (asked, None, error)
    st.rerun()


def take_outcome(spot: str) -> tuple[str, Any] | None:
    """Take what came of the work at a spot, and what had been asked for; None if nothing new.

    Raises
    ------
    VisualiserError
        What the work raised.
    """
    kept = st.session_state.pop(_outcome(spot), None)
    if kept is None:
        return None
    asked, value, error = kept
    if error is not None:
        raise error
    return asked, value


def _under_way(spot: str) -> str:
    return f"under-way-{spot}"


def _outcome(spot: str) -> str:
    return f"outcome-{spot}"


def _ended(spot: str) -> str:
    return f"ended-{spot}"

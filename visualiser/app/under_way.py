"""Long work on the page: begun, watched, stopped, and its outcome taken once.

Each spot of the page has at most one piece of work under way, and knows what it was asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import streamlit as st

from visualiser.app.child_process import ChildProcess, start_process
from visualiser.app.periodic import every
from visualiser.app.session import Kept
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
        As for ``start_process``.
    """
    give_up(spot)
    _ended(spot).take()
    _under_way(spot).put((asked, start_process(function, *arguments)))


def give_up(spot: str) -> None:
    """End what is under way at a spot, if anything is."""
    if kept := _under_way(spot).take():
        kept[1].stop()


def is_under_way(spot: str, asked: str) -> bool:
    """Tell whether that very thing is being worked on."""
    kept = _under_way(spot).get()
    return kept is not None and kept[0] == asked


def has_ended(spot: str, asked: str) -> bool:
    """Tell whether that very thing was stopped or failed, so that it is not begun by itself."""
    return _ended(spot).get() == asked


@every(0.5)
def watch(spot: str, words: str) -> None:
    """Say what is being done and for how long, until it is done or no longer wanted."""
    kept = _under_way(spot).get()
    if kept is None:
        return
    asked, child = kept
    if not child.done:
        told, button = st.columns([2, 1], vertical_alignment="center")
        told.markdown(f"{words} … {child.seconds:.0f} s")
        if button.button("Stop", key=f"stop-{spot}", width="stretch"):
            give_up(spot)
            _ended(spot).put(asked)
            st.rerun()
        return
    _under_way(spot).take()
    try:
        _outcome(spot).put((asked, child.result(), None))
    except VisualiserError as error:
        _ended(spot).put(asked)
        _outcome(spot).put((asked, None, error))
    st.rerun()


def take_outcome(spot: str) -> tuple[str, Any] | None:
    """Take what came of the work at a spot, and what had been asked for; None if nothing new.

    Raises
    ------
    VisualiserError
        What the work raised.
    """
    kept = _outcome(spot).take()
    if kept is None:
        return None
    asked, value, error = kept
    if error is not None:
        raise error
    return asked, value


def _under_way(spot: str) -> Kept[tuple[str, ChildProcess]]:
    return Kept(f"under-way-{spot}")


def _outcome(spot: str) -> Kept[tuple[str, Any, VisualiserError | None]]:
    return Kept(f"outcome-{spot}")


def _ended(spot: str) -> Kept[str]:
    return Kept(f"ended-{spot}")

"""Long work on the page: begun, watched, stopped, and its outcome taken once.

Each spot of the page has at most one piece of work under way, and knows what it was asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import streamlit as st

from visualiser.app import ticking
from visualiser.app.child_process import ChildProcess, start_process
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


def watch(spot: str, words: str) -> None:
    """Say what is being done and for how long, with a button to stop it.

    Once it is done the browser has the page drawn anew, and ``take_outcome`` has what came of it.
    """
    kept = _under_way(spot).get()
    if kept is None:
        return
    told, button = st.columns([2, 1], vertical_alignment="center")
    with told:
        ticking.mount(spot, words, kept[1])
    button.button("Stop", key=f"stop-{spot}", width="stretch", on_click=_stop, args=(spot,))


def _stop(spot: str) -> None:
    if kept := _under_way(spot).get():
        give_up(spot)
        _ended(spot).put(kept[0])


def take_outcome(spot: str, keep: Callable[[tuple[str, Any]], object]) -> bool:
    """Take what came of the work at a spot, if it has ended.

    Parameters
    ----------
    spot
        Name of the place on the page.
    keep
        Keeps what had been asked for and what came of it. It is called before the work is
        forgotten: a run of the page may be given up in between, and the next one takes it then.

    Returns
    -------
    Whether there is something new.

    Raises
    ------
    VisualiserError
        What the work raised.
    """
    kept = _under_way(spot).get()
    if kept is None or not kept[1].done:
        return False
    asked, child = kept
    try:
        keep((asked, child.result()))
    except VisualiserError:
        _ended(spot).put(asked)
        _under_way(spot).take()
        raise
    _under_way(spot).take()
    return True


def _under_way(spot: str) -> Kept[tuple[str, ChildProcess]]:
    return Kept(f"under-way-{spot}")


def _ended(spot: str) -> Kept[str]:
    return Kept(f"ended-{spot}")

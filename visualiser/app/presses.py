"""Buttons whose press counts also where the run of the page that it began is given up.

Streamlit hands a press to one run of the page, and gives that run up as soon as another begins:
what is pressed in quick succession, or while news comes in, would be lost. Here it waits until a
run has come to its button, or to the end of the page.
"""

from __future__ import annotations

from typing import Any

import streamlit as st

from visualiser.app.session import Kept

_WAITING: Kept[list[str]] = Kept("presses-waiting")


def pressed(label: str, *, at: Any = st, key: str | None = None, **looks: Any) -> bool:
    """Draw a button and give whether it was pressed.

    Parameters
    ----------
    label
        What stands on it.
    at
        Where on the page: a column, or the page itself.
    key
        Its name, by what it acts on: never by a number in a list that may have changed by the time
        the press is dealt with. Its label where there is none.
    looks
        As for Streamlit's ``button``.

    Returns
    -------
    Whether a press is to be dealt with now; of two, the other is given by the next run.
    """
    waiting = _WAITING.get_or_make(list)
    name = key or f"press-{label}"
    at.button(label, key=name, on_click=waiting.append, args=(name,), **looks)
    if name not in waiting:
        return False
    waiting.remove(name)
    return True


def forget_presses() -> None:
    """Let go of presses of buttons that the page no longer has: a run has drawn all of it."""
    _WAITING.get_or_make(list).clear()

"""Buttons whose press counts also where the run of the page that it began is given up.

Streamlit hands a press to one run of the page, and gives that run up as soon as another begins:
what is pressed in quick succession, or while news comes in, would be lost. Here it waits until a
run has come to its button, or to the end of the page.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import streamlit as st

from visualiser.app.session import Kept


@dataclass(frozen=True, eq=False)
class Press:
    """One press of a button, another one than the next of the same."""

    button: str


_WAITING: Kept[list[Press]] = Kept("presses-waiting")


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
    at.button(label, key=name, on_click=lambda: waiting.append(Press(name)), **looks)
    press = next((one for one in tuple(waiting) if one.button == name), None)
    if press is not None:
        waiting.remove(press)
    return press is not None


def waiting_presses() -> tuple[Press, ...]:
    """Give the presses that wait where a run of the page begins; see ``forget_presses``."""
    return tuple(_WAITING.get_or_make(list))


def forget_presses(begun_with: tuple[Press, ...]) -> None:
    """Let go of presses of buttons that the page no longer has: a run has drawn all of it.

    Parameters
    ----------
    begun_with
        What waited when the run began. What came since belongs to the next run, which may have
        begun before this one has ended.
    """
    waiting = _WAITING.get_or_make(list)
    for press in begun_with:
        if press in waiting:
            waiting.remove(press)

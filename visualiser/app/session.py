"""What a page keeps between its runs, by typed names instead of bare keys.

Each module keeps what is its own under a name declared there; what several modules share is
declared here. Widgets keep their values by themselves, under the keys they are given.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, Generic, TypeVar

import streamlit as st

from visualiser.errors import VisualiserError

if TYPE_CHECKING:
    from visualiser.app.state import Hold, Work

T = TypeVar("T")
_MAKING = Lock()


class Kept(Generic[T]):
    """A place in the session for a value of one type."""

    def __init__(self, key: str) -> None:
        self.key = key

    def get(self) -> T | None:
        """Give the value, or None where nothing is kept."""
        value: T | None = st.session_state.get(self.key)
        return value

    def get_or_make(self, make: Callable[[], T]) -> T:
        """Give the value, made now where nothing is kept: one for all runs of a page."""
        with _MAKING:
            value = self.get()
            if value is None:
                value = make()
                self.put(value)
            return value

    def put(self, value: T) -> None:
        """Keep a value in the place of the last."""
        st.session_state[self.key] = value

    def take(self) -> T | None:
        """Give the value and keep it no longer."""
        value: T | None = st.session_state.pop(self.key, None)
        return value


WORK: Kept[Work] = Kept("work")
"""The job that the page is on, as its last run began with it."""
HOLD: Kept[Hold] = Kept("hold")
"""What the page keeps of that job from run to run."""


@dataclass(slots=True)
class Way:
    """Where the first page is on its way to: a job that has just been begun, and a step of it."""

    job_id: str | None = None
    step: str | None = None


WAY: Kept[Way] = Kept("way")
"""Kept until the page is there: the run that began the job may be given up before it opens it."""
STEP: Kept[str] = Kept("step")
"""The step that the page is on."""
_PICKER: Kept[int] = Kept("step-picker-number")


def picker_key() -> str:
    """Name the row of steps; it has another name after every ``go_to_step``."""
    return f"step-picker-{_PICKER.get() or 0}"


def go_to_step(step: str) -> None:
    """Have the page show a step from its next run on.

    The row of steps is made anew: what the browser says of the old one may be older than this.
    """
    STEP.put(step)
    _PICKER.put((_PICKER.get() or 0) + 1)


EDIT_TROUBLE: Kept[VisualiserError] = Kept("edit-trouble")
"""Why the last edit was refused, until it has been shown."""


def is_on(key: str) -> bool:
    """Read a switch of the page, also before it is drawn."""
    return bool(st.session_state.get(key))

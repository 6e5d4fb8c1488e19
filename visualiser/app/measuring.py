"""Measure the wall while the page stays alive: it can be worked on, and the measuring stopped.

The measuring goes on in a thread, and the page waits for it where Streamlit may give a run up. Once
stopped, the page no longer waits, and asks for nothing that rests on the measuring. What was begun
still ends unseen, so that to measure after all goes on from there.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from visualiser.app.session import Kept
from visualiser.errors import VisualiserError

_MOMENT_S = 1.0
"""What takes no longer is not worth a word."""
_LOOK_UP_S = 0.1
"""How often the page sees whether something has been pressed."""


class MeasuringStopped(VisualiserError):  # noqa: N818 - as in errors.py
    """The person stopped the measuring: so far there is no measured wall."""

    def __init__(self) -> None:
        super().__init__(
            "The wall is not measured: you stopped it.",
            hint="Pieces can be added meanwhile; places, papers and pictures need it measured.",
        )


class _Measuring(threading.Thread):
    """Work in a thread, with what it raised."""

    def __init__(self, asked: str, measure: Callable[[], Any]) -> None:
        super().__init__(name="measuring", daemon=True)
        self.asked = asked
        self.measure = measure
        self.begun_s = time.monotonic()
        self.raised: Exception | None = None

    def run(self) -> None:
        """Measure; what is found is kept where it is asked for again."""
        try:
            self.measure()
        except Exception as error:
            self.raised = error


_AT_WORK: Kept[_Measuring] = Kept("wall-at-work")
_STOPPED: Kept[str] = Kept("wall-stopped")
"""What the measuring was stopped for."""


def measure_beside(asked: str, measure: Callable[[], Any], place: DeltaGenerator) -> None:
    """Wait until the wall is measured, with a button to stop it once that takes a moment.

    A run of the page that is given up meanwhile leaves the work going on; the next one waits for
    the same work.

    Parameters
    ----------
    asked
        All that the measuring depends on, as text.
    measure
        Called without a page around it; what it finds must be kept by itself.
    place
        Empty place on the page to say it in.

    Raises
    ------
    VisualiserError
        What the measuring raised.
    """
    work = _AT_WORK.get()
    if work is None or work.asked != asked:
        work = _Measuring(asked, measure)
        _AT_WORK.put(work)
        work.start()
    words: DeltaGenerator | None = None
    while work.is_alive():
        seconds = time.monotonic() - work.begun_s
        if words is None and seconds >= _MOMENT_S:
            words = say_it(place, asked)
        if words is None:
            place.empty()  # like all that is sent to the page, a point where a run may be given up
        else:
            words.markdown(f"Measuring the wall … {seconds:.0f} s")
        work.join(_LOOK_UP_S)
    place.empty()
    _AT_WORK.take()
    if work.raised is not None:
        raise work.raised


def say_it(place: DeltaGenerator, asked: str) -> DeltaGenerator:
    """Say that the wall is measured, beside a button to stop it; return the place for the words."""
    with place.container():
        told, button = st.columns([2, 1], vertical_alignment="center")
        words = told.empty()
        button.button(
            "Stop", key="stop-measuring", width="stretch", on_click=stop_measuring, args=(asked,)
        )
    return words


def stop_measuring(asked: str) -> None:
    """Wait no longer for the wall to be measured."""
    _STOPPED.put(asked)


def measuring_stopped(asked: str) -> MeasuringStopped | None:
    """Give the error that stands for a wall whose measuring was stopped; None if it was not."""
    return MeasuringStopped() if _STOPPED.get() == asked else None


def measure_after_all() -> None:
    """Have the wall measured from the page's next run on."""
    _STOPPED.take()

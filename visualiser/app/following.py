"""What follows once a page is shown: the wall is measured, then the finished picture is drawn."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from visualiser.app.fields import tell_above
from visualiser.app.measuring import measure_after_all, measure_beside, measuring_stopped
from visualiser.app.results import Results
from visualiser.app.session import Kept
from visualiser.app.state import Work, option_on_view
from visualiser.app.step import Step
from visualiser.errors import VisualiserError
from visualiser.survey.survey import Survey

_MEASURED: Kept[tuple[str, VisualiserError | None]] = Kept("wall-measured")
"""What the wall has been measured for, and the error if it could not be."""
_CLEARED: Kept[str] = Kept("wall-cleared")
"""What the wall behind the pieces has been made ready for; that takes a moment."""
_MOCKUP: Kept[tuple[str, bytes]] = Kept("mockup-on-view")
"""What the mock-up has been drawn for, and its JPEG; empty if it could not be drawn."""


def is_measured(results: Results) -> bool:
    """Tell whether the photo has been measured, well or not, as the job is now."""
    known = _MEASURED.get()
    return known is not None and known[0] == results.plane_key


def withhold_if_stopped(results: Results) -> None:
    """Let nothing be measured behind the back of a person who has stopped the measuring."""
    if results.document.photo is not None:
        results.withheld = measuring_stopped(results.plane_key)


def is_awaited(results: Results) -> bool:
    """Tell whether the photo is yet to be measured, and will be by itself."""
    unmeasured = results.document.photo is not None and not is_measured(results)
    return unmeasured and results.withheld is None


def survey_if_known(results: Results) -> Survey | None:
    """Take the survey if it is at hand: the photo is shown first, and measured after that."""
    if results.withheld is not None:
        return None
    if results.document.photo is not None and not is_measured(results):
        try:
            if not results.measured_before():
                return None
        except VisualiserError:
            return None
        _note_measured(results, results.survey)
    try:
        return results.survey()
    except VisualiserError:
        return None


def measure_after_showing(results: Results, place: DeltaGenerator) -> bool:
    """Measure a wall that has only been shown so far, unless the person stops it.

    Parameters
    ----------
    results
        Of the job.
    place
        Empty place on the page to say in that it is measured.

    Returns
    -------
    Whether there is now more to show.
    """
    if not is_awaited(results):
        return False
    _note_measured(results, lambda: measure_beside(results.plane_key, results.survey, place))
    return True


def _note_measured(results: Results, measure: Callable[[], object]) -> None:
    trouble: VisualiserError | None = None
    try:
        measure()
    except VisualiserError as error:
        trouble = error
    _MEASURED.put((results.plane_key, trouble))


def tell_unmeasured(results: Results, *, here: bool) -> None:
    """Say why pieces cannot be shown on the wall, where that is so.

    Parameters
    ----------
    results
        Of the job.
    here
        Whether the step says by itself what is wrong with the measuring.
    """
    if results.withheld is not None:
        tell_above(results.withheld, calm=True)
        st.button("Measure the wall", type="primary", on_click=measure_after_all)
        return
    if here:
        tell_above(None)
        return
    known = _MEASURED.get()
    trouble = known[1] if known is not None and is_measured(results) else None
    tell_above(trouble)
    if trouble is not None:
        st.caption("The step Wall is where this is put right.")


def bare_wall_ready(work: Work, results: Results) -> bool:
    """Tell whether the wall behind the option on view has been made ready."""
    if not work.document.options:
        return False
    return _CLEARED.get() == results.bare_wall_key(option_on_view(work))


def draw_mockup(work: Work, results: Results) -> bool:
    """Draw the mock-up on view, unless it has been drawn.

    Returns
    -------
    Whether there is a new picture to show.
    """
    option_id = option_on_view(work)
    key = results.option_key(option_id)
    if (kept := _MOCKUP.get()) and kept[0] == key:
        return False
    try:
        picture = results.preview(option_id)
        _CLEARED.put(results.bare_wall_key(option_id))
    except VisualiserError:
        picture = b""  # the step says why
    _MOCKUP.put((key, picture))
    return bool(picture)


def follow_with_mockup(work: Work, results: Results, step: Step) -> bool:
    """Draw the true picture of what is on view, once it has changed.

    Returns
    -------
    Whether there is a new picture to show.
    """
    document = work.document
    if document.photo is None or not document.options or not step.mockup:
        return False
    if survey_if_known(results) is None:
        return False
    return draw_mockup(work, results)


def mockup_at_hand(results: Results, option_id: str | None) -> bytes | None:
    """Give the mock-up of an option as a JPEG; empty if it cannot be drawn, None before it is."""
    kept = _MOCKUP.get()
    return kept[1] if kept and kept[0] == results.option_key(option_id) else None

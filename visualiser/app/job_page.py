"""The page of a job: its name and state above, the wall to the left, the step to the right."""

from __future__ import annotations

import logging
import traceback
from html import escape
from pathlib import Path

import streamlit as st

from visualiser.app import command_bar, jobs, steps
from visualiser.app.dispatch import dispatch_sent, dispatch_to
from visualiser.app.fields import tell, tell_above
from visualiser.app.following import (
    follow_with_mockup,
    measure_after_showing,
    tell_unmeasured,
)
from visualiser.app.reach import only_this_computer
from visualiser.app.results import Results
from visualiser.app.session import HOLD, STEP, WORK, go_to_step, picker_key
from visualiser.app.state import Work
from visualiser.app.step import Step
from visualiser.app.wall_view import show_wall
from visualiser.errors import VisualiserError, is_memory_short, memory_short

_log = logging.getLogger(__name__)

_FAULT = (
    "This part of the page stopped because of a fault in the program. Your job is saved up to the "
    "last change; go on with another step, or reload the page."
)


def show(work: Work) -> None:
    """Draw the page once, from the job's state."""
    _top_bar(work)
    if dispatch_to(work):  # sent to a server that has been started anew since
        st.rerun()
    _look_outside(work)
    _trouble(work)
    step = _step_picker()
    results = Results(work.project)
    wall, panel = st.columns([step.wall_share, 1], gap="medium")
    with wall, st.container(key="wall-side"):
        try:
            show_wall(work, results, step)
        except Exception as fault:
            _tell_fault("the wall view", fault)
    with panel:
        st.header(step.title)
        if step.key in ("photo", "wall"):
            tell_above(None)
        else:
            tell_unmeasured(results)
        try:
            step.show(work, results)
        except VisualiserError as error:
            tell(error)
        except Exception as fault:
            _tell_fault(f"step {step.key}", fault)
    if measure_after_showing(results) or follow_with_mockup(work, results, step):
        st.rerun()


def _tell_fault(what: str, fault: Exception) -> None:
    """Say that memory is short where that is it; note anything else as a fault of the program."""
    if is_memory_short(fault):
        tell(memory_short())
        return
    _note(what, fault)
    st.error(_FAULT)


@st.fragment(run_every=2.0)
def _look_outside(work: Work) -> None:
    """Draw the page anew once the job has been saved elsewhere, as in a second window."""
    saved = jobs.last_saved(work.job_id)
    news = saved is not None if work.unreadable else saved != work.project.document.revision
    if news:
        st.rerun()


def _note(what: str, fault: Exception) -> None:
    """Log what failed and where, but not its message: that may hold a client's name in a path."""
    frames = traceback.extract_tb(fault.__traceback__)
    where = " < ".join(f"{Path(f.filename).name}:{f.lineno}" for f in reversed(frames[-4:]))
    _log.error("%s failed: %s at %s", what, type(fault).__name__, where)
    _log.debug("in full", exc_info=fault)


def _top_bar(work: Work) -> None:
    with st.container(key="top-bar"):
        _top_row(work)


def _top_row(work: Work) -> None:
    name, unit, steps_back, leave = st.columns([2.6, 1.35, 2.2, 1.0], vertical_alignment="center")
    with name:
        title = escape(work.document.name or "Job without a name")
        st.html(
            f'<div title="{title}" style="font-size:1.25rem;line-height:1.3;font-weight:600;'
            "font-family:var(--st-heading-font);white-space:nowrap;overflow:hidden;"
            f'text-overflow:ellipsis">{title}</div>'
            f'<div style="font-size:.82rem;line-height:1.3">{_saved(work)}</div>'
        )
    with unit:
        chosen = st.segmented_control(
            "Unit of length",
            jobs.UNITS,
            default=work.document.units,
            key=f"unit-{work.generation}",
            label_visibility="collapsed",
            required=True,
        )
        if chosen and chosen != work.document.units:
            work.change(work.document.changed(units=chosen), step=False)
            if only_this_computer():
                jobs.remember_units(chosen)
            st.rerun()
    with steps_back:
        command_bar.mount(
            {
                "job": work.job_id,
                "answered": work.all_answered,
                "can_undo": work.can_undo,
                "can_redo": work.can_redo,
                "step": st.session_state.get(picker_key()) or _present_step(),
            },
            dispatch_sent,
            _go_to_step,
        )
    with leave:
        st.button("All jobs", icon=":material/folder_open:", on_click=_leave, width="stretch")


def _saved(work: Work) -> str:
    if work.trouble:
        return "not saved"
    revision = work.document.revision
    return f"saved · revision {revision}" if revision else "saved"


def _go_to_step() -> None:
    """Follow the browser's own buttons, back and forward."""
    step = command_bar.step_gone_to()
    if step is not None and step in [one.key for one in steps.ALL]:
        go_to_step(step)


def _leave() -> None:
    st.query_params.pop("job", None)
    WORK.take()
    HOLD.take()


def _trouble(work: Work) -> None:
    if work.trouble is None:
        return
    tell(work.trouble)
    st.button("Save again", type="primary", key="save-again", on_click=_save_again, args=(work,))


def _save_again(work: Work) -> None:
    work.save_again()
    dispatch_to(work)


def _present_step() -> str:
    """Name the step that the page is on; at first the one that its address names."""
    asked = st.query_params.get("step")
    names = [step.key for step in steps.ALL]
    return STEP.get() or (asked if asked in names else names[0])


def _step_picker() -> Step:
    names = [step.key for step in steps.ALL]
    present = _present_step()
    titles = {step.key: f"{number} {step.title}" for number, step in enumerate(steps.ALL, 1)}
    chosen = st.segmented_control(
        "Step of the job",
        names,
        default=present,
        format_func=lambda key: titles[key],
        key=picker_key(),
        label_visibility="collapsed",
        required=True,
        width="stretch",
    )
    chosen = chosen or present
    STEP.put(chosen)
    return next(step for step in steps.ALL if step.key == chosen)

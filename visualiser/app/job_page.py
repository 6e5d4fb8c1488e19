"""The page of a job: a slim bar above, the wall as the page, the step's panel beside it."""

from __future__ import annotations

from html import escape

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from visualiser.app import command_bar, jobs, steps
from visualiser.app.dispatch import dispatch_sent, dispatch_to
from visualiser.app.faults import note_fault
from visualiser.app.fields import tell
from visualiser.app.following import (
    follow_with_mockup,
    measure_after_showing,
    tell_unmeasured,
    withhold_if_stopped,
)
from visualiser.app.progress import done_steps, next_step
from visualiser.app.results import Results
from visualiser.app.session import HOLD, STEP, WORK, go_to_step, picker_key
from visualiser.app.state import Work
from visualiser.app.step import Step
from visualiser.app.wall_view import show_wall
from visualiser.errors import VisualiserError, is_memory_short, memory_short

_FAULT = (
    "This part of the page stopped because of a fault in the program. Your job is saved up to the "
    "last change; go on with another step, or reload the page."
)
_NEED_NO_WALL = frozenset({"photo", "pieces"})
"""Steps that are shown while the wall is still being measured."""


def show(work: Work) -> None:
    """Draw the page once, from the job's state."""
    steps_row = _top_bar(work)
    if dispatch_to(work):  # sent to a server that has been started anew since
        st.rerun()
    _trouble(work)
    results = Results(work.project)
    withhold_if_stopped(results)
    with steps_row:
        step = _step_picker(done_steps(results))
    wall, panel = st.columns([3, 1], gap="small")
    with wall, st.container(key="wall-side"):
        try:
            show_wall(work, results, step)
        except Exception as fault:
            _tell_fault("the wall view", fault)
    with panel, st.container(key="panel-side"):
        measured_here = _panel(work, results, step)
    if measured_here or follow_with_mockup(work, results, step):
        st.rerun()


def _panel(work: Work, results: Results, step: Step) -> bool:
    """Show what a step decides, and the way on.

    Returns
    -------
    Whether the wall has been measured meanwhile, so that there is more to show.
    """
    st.header(step.title)
    tell_unmeasured(results, here=step.key in ("photo", "wall"))
    place = st.empty()
    if step.key not in _NEED_NO_WALL and _measured_now(results, place):
        return True
    try:
        step.show(work, results)
    except VisualiserError as error:
        tell(error)
    except Exception as fault:
        _tell_fault(f"step {step.key}", fault)
    _way_on(step, done_steps(results))
    return _measured_now(results, place)


def _measured_now(results: Results, place: DeltaGenerator) -> bool:
    try:
        return measure_after_showing(results, place)
    except Exception as fault:
        _tell_fault("the measuring", fault)
        return False


def _way_on(step: Step, done: frozenset[str]) -> None:
    """Offer the next step at the panel's foot, in the first place once this one is done."""
    following = next_step(step.key, steps.ALL)
    if following is None:
        return
    with st.container(key="next-step"):
        st.button(
            f"Next: {following.title}",
            key=f"next-{step.key}",
            type="primary" if step.key in done or not step.needed else "secondary",
            icon=":material/arrow_forward:",
            icon_position="right",
            on_click=go_to_step,
            args=(following.key,),
            width="stretch",
        )


def _tell_fault(what: str, fault: Exception) -> None:
    """Say that memory is short where that is it; note anything else as a fault of the program."""
    if is_memory_short(fault):
        tell(memory_short())
        return
    note_fault(what, fault)
    st.error(_FAULT)


def _top_bar(work: Work) -> DeltaGenerator:
    """Show the job's name and what holds for every step; return the place for the row of steps."""
    with st.container(key="top-bar", horizontal=True, vertical_alignment="center"):
        with st.container(key="top-name"):
            _name_and_state(work)
        steps_row = st.container(key="top-steps")
        with st.container(key="top-tools", horizontal=True, vertical_alignment="center"):
            command_bar.mount(
                {
                    "job": work.job_id,
                    "saved": None if work.unreadable else work.project.document.revision,
                    "answered": work.all_answered,
                    "can_undo": work.can_undo,
                    "can_redo": work.can_redo,
                    "unit": work.document.units,
                    "units": jobs.UNITS,
                    "step": st.session_state.get(picker_key()) or _present_step(),
                },
                dispatch_sent,
                _go_to_step,
            )
            st.button("All jobs", icon=":material/folder_open:", on_click=_leave, key="all-jobs")
    return steps_row


def _name_and_state(work: Work) -> None:
    title = escape(work.document.name or "Job without a name")
    state = "not saved" if work.trouble else "saved"
    st.html(
        f'<div title="{title}" style="font-size:1.05rem;line-height:1.25;font-weight:600;'
        "font-family:var(--st-heading-font);white-space:nowrap;overflow:hidden;"
        f'text-overflow:ellipsis">{title}</div>'
        f'<div style="font-size:.78rem;line-height:1.2">{state}</div>'
    )


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


def _step_picker(done: frozenset[str]) -> Step:
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
    # By style, not by label: with other labels it would be another row, made anew under the hand.
    ticked = ", ".join(
        f".st-key-top-steps button:nth-of-type({number}) p::after"
        for number, name in enumerate(names, 1)
        if name in done
    )
    if ticked:
        st.html(f'<style>{ticked} {{ content: " ✓" / ", done"; }}</style>')
    chosen = chosen or present
    # A run that is being given up may get here after the next has gone to another step: it must not
    # take that back.
    if chosen != present or STEP.get() is None:
        STEP.put(chosen)
    return next(step for step in steps.ALL if step.key == chosen)

"""Presses of buttons that outlive the run of the page which was to deal with them.

Streamlit hands a press to one run of the page. Where the next request comes before that run's
thread has begun, on a busy machine or after a pause, the run is given up and the press with it.
Here a press is carried over to the request that takes its place, until a run has dealt it out.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from functools import wraps
from threading import Lock
from typing import Any
from weakref import WeakValueDictionary

_LOCK = Lock()
_HELD_AS = "_presses_not_dealt_out"


@dataclass(eq=False)
class _Presses:
    """How often each button of a session was pressed since a run last dealt its presses out."""

    times: Counter[str] = field(default_factory=Counter)


_OF_SESSION: WeakValueDictionary[str, _Presses] = WeakValueDictionary()


def keep_presses() -> None:
    """Have presses outlive runs that never begin, for the whole server.

    How runs are asked for is no public part of Streamlit (1.67); where it is done in another way,
    it is left alone.
    """
    try:
        from streamlit.runtime.app_session import AppSession
        from streamlit.runtime.state.session_state import SessionState

        asking, dealing_out = AppSession.request_rerun, SessionState.on_script_will_rerun
    except (ImportError, AttributeError):
        return
    if not hasattr(asking, "__wrapped__"):
        AppSession.request_rerun = _carrying_over(asking)  # type: ignore[method-assign]
        SessionState.on_script_will_rerun = _once_each(dealing_out)  # type: ignore[method-assign]


def _carrying_over(request_rerun: Any) -> Any:
    @wraps(request_rerun)
    def request_with_all_presses(session: Any, client_state: Any) -> None:
        if client_state is not None:
            with _LOCK:
                waiting = _presses_of(session).times
                waiting.update(_pressed(client_state.widget_states))
                if not client_state.fragment_id:  # only a run of the whole page replaces another
                    _press(client_state.widget_states, waiting)
        request_rerun(session, client_state)

    return request_with_all_presses


def _once_each(on_script_will_rerun: Any) -> Any:
    """Deal out what was pressed twice in two goes, and what was dealt out already not again."""

    @wraps(on_script_will_rerun)
    def deal_out(state: Any, widget_states: Any, **named: Any) -> None:
        for go in _goes(widget_states):
            on_script_will_rerun(state, go, **named)

    return deal_out


def _goes(widget_states: Any) -> list[Any]:
    """Give what a run is to be told, once for each time that a button still waits."""
    from streamlit.runtime.scriptrunner import get_script_run_ctx

    run = get_script_run_ctx(suppress_warning=True)
    waiting = _OF_SESSION.get(run.session_id) if run else None
    if waiting is None or widget_states is None or not (names := _pressed(widget_states)):
        return [widget_states]
    with _LOCK:
        times = {name: waiting.times.pop(name, 0) for name in names}
    goes = []
    for number in range(max(1, *times.values())):
        go = type(widget_states)()
        go.CopyFrom(widget_states)
        for widget in go.widgets:
            if widget.id in times:
                widget.trigger_value = times[widget.id] > number
        goes.append(go)
    return goes


def _presses_of(session: Any) -> _Presses:
    waiting: _Presses | None = getattr(session, _HELD_AS, None)
    if waiting is None:
        waiting = _Presses()
        setattr(session, _HELD_AS, waiting)  # lives as long as the session
        _OF_SESSION[session.id] = waiting
    return waiting


def _pressed(widget_states: Any) -> set[str]:
    return {widget.id for widget in widget_states.widgets if widget.trigger_value}


def _press(widget_states: Any, names: Any) -> None:
    for name in set(names) - _pressed(widget_states):
        same = [widget for widget in widget_states.widgets if widget.id == name]
        widget = same[0] if same else widget_states.widgets.add(id=name)
        widget.trigger_value = True

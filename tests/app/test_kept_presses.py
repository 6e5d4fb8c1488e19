"""Presses count, once each, though the runs they were meant for never begin.

The sessions and runs are Streamlit's own; only when a run's thread begins is up to the test.
"""

import asyncio
import re
from unittest.mock import MagicMock

import pytest
from streamlit.proto.ClientState_pb2 import ClientState
from streamlit.runtime import Runtime
from streamlit.runtime.app_session import AppSession
from streamlit.runtime.script_data import ScriptData
from streamlit.runtime.scriptrunner import ScriptRunner
from streamlit.runtime.scriptrunner.script_cache import ScriptCache
from streamlit.runtime.state.session_state import SessionState

from tests.app.test_road import open_step
from visualiser.app.kept_presses import keep_presses

PAGE = """
import streamlit as st

done = st.session_state.setdefault("done", [])
for name in ("plumb", "level"):
    st.button(name, key=name, on_click=done.append, args=(name,))
"""


class Session:
    """A session of the page, whose runs begin when they are let."""

    def __init__(self, script, monkeypatch):
        self.runners = []
        start = ScriptRunner.start
        monkeypatch.setattr(ScriptRunner, "start", lambda runner: self.runners.append(runner))
        self._begin = start
        self.session = AppSession(
            script_data=ScriptData(str(script), False),
            uploaded_file_manager=MagicMock(),
            script_cache=ScriptCache(),
            message_enqueued_callback=None,
            user_info={},
        )

    def ask(self, *pressed):
        state = ClientState()
        for name in pressed:
            state.widget_states.widgets.add(id=self.ids()[name], trigger_value=True)
        self.session.request_rerun(state)

    def ids(self):
        known = self.session.session_state._new_widget_state.widget_metadata
        return {re.sub(".*-", "", name): name for name in known}

    def let_begin(self):
        """Let the runs that were asked for begin, the oldest first, each to its end."""
        while self.runners:
            runner = self.runners.pop(0)
            self._begin(runner)
            runner._script_thread.join(60)
            assert not runner._script_thread.is_alive()

    def done(self):
        return self.session.session_state["done"]


@pytest.fixture
def session(monkeypatch, tmp_path):
    monkeypatch.setattr(Runtime, "_instance", MagicMock())
    monkeypatch.setattr(AppSession, "request_rerun", AppSession.request_rerun)
    monkeypatch.setattr(SessionState, "on_script_will_rerun", SessionState.on_script_will_rerun)
    keep_presses()
    keep_presses()  # as by a server that is started again in one process
    script = tmp_path / "page.py"
    script.write_text(PAGE, "utf-8")

    async def made():
        return Session(script, monkeypatch)

    loop = asyncio.new_event_loop()
    session = loop.run_until_complete(made())
    session.ask()
    session.let_begin()
    assert session.done() == []
    yield session
    session.session.shutdown()
    session.session._script_event_loop.close()
    loop.close()


def test_a_press_is_dealt_out_once(session):
    session.ask("plumb")
    session.let_begin()
    session.ask()
    session.let_begin()
    assert session.done() == ["plumb"]


def test_a_press_outlives_a_run_that_never_begins(session):
    session.ask("plumb")
    session.ask("level")
    session.ask()
    session.let_begin()
    assert sorted(session.done()) == ["level", "plumb"]
    session.ask()
    session.let_begin()
    assert sorted(session.done()) == ["level", "plumb"]


def test_presses_of_one_button_all_count(session):
    for name in ("plumb", "plumb", "level", "plumb"):
        session.ask(name)
    session.let_begin()
    assert sorted(session.done()) == ["level", "plumb", "plumb", "plumb"]


def test_a_press_that_a_run_has_dealt_out_is_not_dealt_out_by_the_next(session, monkeypatch):
    """The next request comes when the run before it can no longer be given up."""
    dealing, asked = SessionState.on_script_will_rerun, []

    def while_more_is_asked(state, *arguments, **named):
        if not asked:
            asked.append(True)
            session.ask()
        dealing(state, *arguments, **named)

    monkeypatch.setattr(SessionState, "on_script_will_rerun", while_more_is_asked)
    session.ask("plumb")
    session.let_begin()
    assert session.done() == ["plumb"]


@pytest.mark.browser
def test_presses_that_reach_the_server_at_once_all_count(page, server, room):
    job_id, _ = room.job(quick=True)
    held, holding = [], []

    def between(socket):
        onward = socket.connect_to_server()

        def told(message):
            if holding:
                held.append((onward, message))
            else:
                onward.send(message)

        socket.on_message(told)

    page.route_web_socket(re.compile("_stcore/stream"), between)
    open_step(page, server, job_id, "wall")
    page.get_by_text("Good to").first.wait_for()
    page.get_by_text("Lines and lengths that sharpen the measurement").click()
    page.wait_for_selector("[data-test-script-state=notRunning]")
    holding.append(True)
    for kind in ("plumb", "level", "plumb"):
        page.get_by_role("button", name=f"Add a {kind} line").click()
    assert held
    holding.clear()
    for onward, message in held:
        onward.send(message)

    def drawn():
        return sorted(line.direction for line in server.project(job_id).document.marks.lines)

    for _ in range(300):  # messages pass through this thread, which may not sleep
        page.wait_for_timeout(100)
        if len(drawn()) == 3:
            break
    assert drawn() == ["level", "plumb", "plumb"]

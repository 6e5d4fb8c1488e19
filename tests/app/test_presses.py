"""A press is dealt with once, whatever becomes of the run of the page that it began."""

import pytest
from streamlit.testing.v1 import AppTest


def page():
    import streamlit as st
    from streamlit.runtime.scriptrunner import StopException

    from visualiser.app.presses import Press, forget_presses, pressed, waiting_presses

    begun_with = waiting_presses()
    done = st.session_state.setdefault("done", [])
    giving_up = st.session_state.setdefault("giving-up", [])
    if giving_up:
        giving_up.pop()
        raise StopException  # as where another run begins before this one has come to its buttons
    if pressed("Add a line"):
        done.append("line")
    if st.session_state.get("shelf") and pressed("Add a shelf", key="add-shelf"):
        done.append("shelf")
    if st.session_state.pop("pressed-meanwhile", False):  # by the next run, which has begun
        st.session_state["presses-waiting"].append(Press("press-Add a line"))
    forget_presses(begun_with)


@pytest.fixture
def app():
    return AppTest.from_function(page).run()


def test_a_press_is_dealt_with_once(app):
    app.button(key="press-Add a line").click().run()
    app.run()
    assert app.session_state["done"] == ["line"]


def test_a_press_outlives_the_run_that_it_began(app):
    app.session_state["giving-up"] = [True]
    app.button(key="press-Add a line").click().run()
    assert app.session_state["done"] == []
    app.run()
    app.run()
    assert app.session_state["done"] == ["line"]


def test_a_press_of_a_button_that_has_gone_is_forgotten(app):
    app.session_state["shelf"] = True
    app.run()
    app.session_state["giving-up"] = [True]
    app.button(key="add-shelf").click().run()
    app.session_state["shelf"] = False
    app.run()
    app.session_state["shelf"] = True
    app.run()
    assert app.session_state["done"] == []


def test_a_press_that_comes_while_a_run_ends_is_left_to_the_next(app):
    app.session_state["pressed-meanwhile"] = True
    app.button(key="press-Add a line").click().run()
    assert app.session_state["done"] == ["line"]
    app.run()
    assert app.session_state["done"] == ["line", "line"]

"""The page stays alive while the wall is measured; it can be stopped, and be done after all."""

import threading

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from tests.app.conftest import ROOT, labelled_button, opened_page, wall_data
from visualiser.app import measuring, results, steps
from visualiser.errors import MeasurementError

STEPS = [step.key for step in steps.ALL]


class GivenUp(BaseException):
    """As Streamlit gives up a run of the page: where something is sent to it."""


class Place:
    """A place on the page that notes what is shown in it, and may end the run there."""

    def __init__(self, gives_up_at=None):
        self.gives_up_at, self.shown = gives_up_at, []

    def empty(self):
        self.shown.append("")
        if len(self.shown) == self.gives_up_at:
            raise GivenUp


@pytest.fixture
def session(monkeypatch):
    monkeypatch.setattr(st, "session_state", {})


@pytest.fixture
def at_once(monkeypatch):
    monkeypatch.setattr(measuring, "_LOOK_UP_S", 0.001)
    monkeypatch.setattr(measuring, "_MOMENT_S", float("inf"))


@pytest.mark.usefixtures("session", "at_once")
def test_a_run_that_is_given_up_leaves_the_work_to_the_next():
    may_end, begun = threading.Event(), []

    def measure():
        begun.append("once")
        may_end.wait()

    with pytest.raises(GivenUp):
        measuring.measure_beside("this wall", measure, Place(gives_up_at=2))
    may_end.set()
    measuring.measure_beside("this wall", measure, Place())
    assert begun == ["once"]


@pytest.mark.usefixtures("session", "at_once")
def test_another_wall_does_not_wait_for_the_last():
    for_ever = threading.Event()
    with pytest.raises(GivenUp):
        measuring.measure_beside("one wall", for_ever.wait, Place(gives_up_at=1))
    done = []
    measuring.measure_beside("another", lambda: done.append("another"), Place())
    assert done == ["another"]
    for_ever.set()


@pytest.mark.usefixtures("session", "at_once")
@pytest.mark.parametrize("error", [MeasurementError("No.", hint="Do."), ZeroDivisionError()])
def test_what_the_work_raises_is_raised_on_the_page(error):
    def measure():
        raise error

    with pytest.raises(type(error)):
        measuring.measure_beside("this wall", measure, Place())


def page_that_waits():
    import streamlit as st

    from visualiser.app import measuring

    if measuring.measuring_stopped("this wall"):
        st.text("stopped")
    else:
        measuring.say_it(st.empty(), "this wall").markdown("Measuring the wall … 2 s")


def test_the_button_stops_it():
    page = AppTest.from_function(page_that_waits).run()
    assert page.markdown[0].value == "Measuring the wall … 2 s"
    labelled_button(page, "Stop").click().run()
    assert page.text[0].value == "stopped"
    assert not page.button


@pytest.fixture
def stopped(jobs_folder, room, monkeypatch):
    """A job whose wall nobody has measured, and a page on which that was stopped."""
    st.cache_resource.clear()
    job_id, project = room.job(quick=True)
    asked = results.Results(project).plane_key
    refused = []

    def measure(*_):
        refused.append("measured")
        raise AssertionError("measured although stopped")

    with monkeypatch.context() as patch:
        patch.setattr(results, "measure_plane", measure)
        patch.setattr(results, "survey_bare", measure)
        yield job_id, asked, refused, patch
    st.cache_resource.clear()


def stopped_page(job_id, asked, step):
    page = AppTest.from_file(str(ROOT / "streamlit_app.py"), default_timeout=120)
    page.query_params["job"], page.query_params["step"] = job_id, step
    page.session_state[measuring._STOPPED.key] = asked
    page.run()
    assert not page.exception
    return page


def test_no_step_measures_once_stopped(stopped):
    job_id, asked, refused, _ = stopped
    for step in STEPS:
        page = stopped_page(job_id, asked, step)
        assert not page.error, step
        assert [info.value for info in page.info if "you stopped it" in info.value], step
        assert wall_data(page)["awaited"] is None
    assert not refused


def test_it_is_measured_after_all(stopped):
    job_id, asked, _, patch = stopped
    page = stopped_page(job_id, asked, "wall")
    patch.undo()
    labelled_button(page, "Measure the wall").click().run()
    assert not page.exception
    assert any("Good to" in text.value for text in page.markdown)
    assert not page.info
    opened_page(job_id, "wall")

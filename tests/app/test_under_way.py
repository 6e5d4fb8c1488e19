"""Work beside the page: what came of it is kept once, whenever a run of the page is given up."""

import pytest
from streamlit.runtime.scriptrunner_utils.exceptions import StopException

from visualiser.app import under_way
from visualiser.errors import UnitError
from visualiser.units import parse_length

SPOT = "under-way-measuring"


@pytest.fixture
def begun(monkeypatch):
    """A session in which the work of a spot has just ended."""
    session = {}
    monkeypatch.setattr("streamlit.session_state", session)

    def begin(text):
        under_way.begin("measuring", text, parse_length, text)
        session[SPOT][1].process.wait(60)

    return begin


def test_what_came_of_it_is_taken_once(begun):
    begun("61.9 cm")
    kept = []
    assert under_way.take_outcome("measuring", kept.append)
    assert kept == [("61.9 cm", 619.0)]
    assert not under_way.take_outcome("measuring", kept.append)
    assert not under_way.is_under_way("measuring", "61.9 cm")


def test_a_run_given_up_meanwhile_costs_nothing(begun):
    """Streamlit may give a run up wherever it touches the session."""
    begun("61.9 cm")
    kept = []

    def given_up(outcome):
        kept.append(outcome)
        raise StopException

    with pytest.raises(StopException):
        under_way.take_outcome("measuring", given_up)
    assert under_way.is_under_way("measuring", "61.9 cm")
    assert under_way.take_outcome("measuring", kept.append)
    assert kept == 2 * [("61.9 cm", 619.0)]


def test_what_it_raised_is_raised_and_it_is_not_begun_by_itself(begun):
    begun("wide")
    with pytest.raises(UnitError) as here:
        parse_length("wide")
    with pytest.raises(Exception, match="wide") as aside:
        under_way.take_outcome("measuring", pytest.fail)
    assert aside.value.message == here.value.message
    assert under_way.has_ended("measuring", "wide")
    assert not under_way.take_outcome("measuring", pytest.fail)

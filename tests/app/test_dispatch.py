"""Commands that a page has sent: answered once dealt with, and never in the way of each other."""

from types import SimpleNamespace

import pytest

from visualiser.app import command_bar, dispatch
from visualiser.app.state import Work
from visualiser.arrangement.arrangement import Placement
from visualiser.project.document import Document, OptionEntry, PieceEntry
from visualiser.project.store import create_project, open_project

MOVE = {"kind": "move", "piece": "a", "to": [800, 1500], "option": "first"}


@pytest.fixture
def told(monkeypatch):
    """What the page would say."""
    said = []
    monkeypatch.setattr(dispatch, "EDIT_TROUBLE", SimpleNamespace(put=said.append))
    return said


@pytest.fixture
def work(tmp_path, told):
    piece = PieceEntry(id="a", width_mm=400, height_mm=500)
    option = OptionEntry(id="first", placements=(Placement("a", 500, 1500),))
    project = create_project(tmp_path / "job", Document(pieces=(piece,), options=(option,)))
    return Work.opened("job", project)


@pytest.fixture
def send(monkeypatch):
    def sent(*commands):
        numbered = [{"number": k, **command} for k, command in enumerate(commands, 1)]
        batch = {"job": "job", "hand": "here", "commands": numbered}
        monkeypatch.setattr(command_bar, "sent_outbox", lambda: {"batches": [batch]})

    return sent


def x_of(work):
    return open_project(work.project.folder).document.option("first").placements[0].x_mm


def test_a_command_is_dealt_with_once(work, send):
    send(MOVE)
    assert dispatch.dispatch_to(work)
    assert x_of(work) == 800
    assert not dispatch.dispatch_to(work)


def test_what_cannot_be_saved_is_no_reason_to_draw_the_page_again(work, send, monkeypatch):
    """It would be found unsaved again, and so on without end, and nobody be told why."""
    send(MOVE)
    with monkeypatch.context() as patched:
        patched.setattr(Work, "_numbered", lambda *_: False)
        assert not dispatch.dispatch_to(work)
    assert work.answered("here") == 0
    assert dispatch.dispatch_to(work)
    assert x_of(work) == 800


def test_a_fault_of_the_program_stops_no_other_command(work, send, told, monkeypatch):
    def faulty(*_):
        raise RuntimeError("a fault")

    send({"kind": "lock", "piece": "a", "kept": True, "option": "first"}, MOVE)
    monkeypatch.setattr(dispatch, "lock_piece", faulty)
    assert dispatch.dispatch_to(work)
    assert x_of(work) == 800
    assert work.answered("here") == 2
    (said,) = told
    assert "fault in the program" in str(said)


def test_more_marks_than_a_job_may_have_are_refused_in_words(work, send, told):
    corners = [[10, 10], [90, 10], [90, 90]]
    send(*({"kind": "found", "name": "socket", "points": corners} for _ in range(400)))
    assert dispatch.dispatch_to(work)
    assert told
    assert not any("fault in the program" in str(one) for one in told)
    assert work.answered("here") == 400

"""A file that was dropped is kept once, whatever becomes of the run of the page that takes it."""

import threading
from contextlib import contextmanager
from types import SimpleNamespace

import pytest
import streamlit as st
from streamlit.runtime.scriptrunner import StopException

from visualiser.app import uploads
from visualiser.app.uploads import take_upload, take_uploads
from visualiser.errors import PhotoError


def dropped(number, data=b"a picture"):
    return SimpleNamespace(
        file_id=f"file-{number}", name=f"{number}.jpg", size=len(data), getvalue=lambda: data
    )


@pytest.fixture(autouse=True)
def session():
    st.session_state.clear()
    yield
    st.session_state.clear()


@pytest.fixture
def kept(monkeypatch):
    monkeypatch.setattr(uploads, "free_upload", lambda upload: None)
    return []


def given_up(at_entry):
    """A run of a page that is given up at a note it draws, as Streamlit's runs are."""

    @contextmanager
    def spinner(_words):
        if at_entry:
            raise StopException
        yield
        raise StopException

    return spinner


def keeper(kept):
    return lambda name, data: kept.append((name, data))


def test_a_file_is_kept_once(kept):
    upload = dropped(1)
    assert take_upload(upload, "photo", keeper(kept))
    assert not take_upload(upload, "photo", keeper(kept))
    assert take_upload(dropped(2), "photo", keeper(kept))
    assert [name for name, _ in kept] == ["1.jpg", "2.jpg"]


@pytest.mark.parametrize("at_entry", [True, False])
def test_a_run_that_is_given_up_neither_loses_nor_doubles_it(monkeypatch, kept, at_entry):
    upload = dropped(1)
    with monkeypatch.context() as first:
        first.setattr(st, "spinner", given_up(at_entry))
        with pytest.raises(StopException):
            take_upload(upload, "photo", keeper(kept))
    assert take_upload(upload, "photo", keeper(kept)) == at_entry
    assert kept == [("1.jpg", b"a picture")]


def test_a_run_given_up_while_it_keeps_leaves_the_file_to_the_next(kept):
    def stopped(_name, _data):
        raise StopException

    upload = dropped(1)
    with pytest.raises(StopException):
        take_upload(upload, "photo", stopped)
    assert take_upload(upload, "photo", keeper(kept))
    assert kept == [("1.jpg", b"a picture")]


def test_a_run_waits_for_the_one_that_is_keeping_it(kept):
    begun, go_on, answers = threading.Event(), threading.Event(), []
    upload = dropped(1)
    take_upload(None, "photo", keeper(kept))  # the page was there before the file

    def slowly(name, data):
        begun.set()
        assert go_on.wait(10)
        kept.append((name, data))

    def run(keep):
        answers.append(take_upload(upload, "photo", keep))

    first = threading.Thread(target=run, args=(slowly,))
    first.start()
    assert begun.wait(10)
    second = threading.Thread(target=run, args=(keeper(kept),))
    second.start()
    go_on.set()
    first.join(10)
    second.join(10)
    assert kept == [("1.jpg", b"a picture")]
    assert sorted(answers) == [False, True]


def test_what_is_wrong_with_a_file_is_said_as_long_as_it_lies_there(kept):
    empty = dropped(1, b"")
    for _ in range(3):
        with pytest.raises(PhotoError, match="empty"):
            take_upload(empty, "photo", keeper(kept))
    assert not take_upload(None, "photo", keeper(kept))
    assert take_upload(dropped(2), "photo", keeper(kept))
    assert [name for name, _ in kept] == ["2.jpg"]


def test_of_several_only_those_that_came_just_now_are_kept(kept):
    one, two = dropped(1), dropped(2)
    assert take_uploads([one], "artworks", kept.extend)
    assert take_uploads([one, two], "artworks", kept.extend)
    assert not take_uploads([one, two], "artworks", kept.extend)
    assert [name for name, _ in kept] == ["1.jpg", "2.jpg"]

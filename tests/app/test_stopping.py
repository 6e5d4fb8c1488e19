"""Long work is stopped on the page, what was there before stays, and it is done after all."""

import time

import pytest

from tests.app.conftest import opened_page
from visualiser.app import under_way
from visualiser.app.child_process import start_process

PAPERS = ["the measured plan", "templates at true size"]


def button(page, label):
    return next((b for b in page.button if b.label == label), None)


def press(page, label):
    button(page, label).click().run()


def stopped(page, begin, label, monkeypatch):
    """Begin work that would take a minute, and stop it; it is offered then."""
    begun = []
    with monkeypatch.context() as patch:
        patch.setattr(
            under_way,
            "start_process",
            lambda *_: begun.append(start_process(time.sleep, 60)) or begun[-1],
        )
        begin()
    assert button(page, label) is None
    button(page, "Stop").click().run()
    assert begun[0].done
    assert button(page, "Stop") is None
    assert button(page, label) is not None


def finished(page, patience_s=90):
    deadline = time.monotonic() + patience_s
    while button(page, "Stop") is not None:
        assert time.monotonic() < deadline
        time.sleep(0.3)
        page.run()
    assert not page.exception


@pytest.mark.parametrize("label", PAPERS)
def test_papers_are_stopped_and_made_after_all(jobs_folder, room, monkeypatch, label):
    job_id, _ = room.job()
    page = opened_page(job_id, "hang")
    stopped(page, lambda: press(page, f"Make {label}"), f"Make {label}", monkeypatch)
    press(page, f"Make {label}")
    finished(page)
    assert button(page, f"Make {label}") is None  # there is one to save now
    assert not page.error


def test_the_check_is_stopped_and_made_after_all(jobs_folder, room, monkeypatch):
    job_id, _ = room.job()
    page = opened_page(job_id, "check")
    bare = ("bare.jpg", room.photo(), "image/jpeg")
    drop = lambda: page.file_uploader[0].set_value(bare).run()  # noqa: E731
    stopped(page, drop, "Compare with the plan", monkeypatch)
    press(page, "Compare with the plan")
    finished(page)
    assert any("None of the 3 planned pieces" in error.value for error in page.error)
    assert button(page, "Compare with the plan") is not None

"""What the page waits for comes in the end: pictures refused or never answered, changes that were
lost on the way. Streamlit's own address of a picture is ``/media/…``."""

import re
from collections import Counter

import numpy as np
import pytest

from tests.app.test_road import FINISHED, carry, open_step, places, until

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("gone", [2, 5])
def test_a_picture_that_was_gone_is_asked_for_again(page, server, room, gone):
    job_id, _ = room.job(quick=True)
    asked = Counter()

    def answer(route):
        address = route.request.url.split("?")[0]
        asked[address] += 1
        if asked[address] <= gone:
            route.fulfill(status=404)
        else:
            route.continue_()

    page.route("**/media/**", answer)
    open_step(page, server, job_id, "mockup")
    page.wait_for_selector(FINISHED)
    assert max(asked.values()) > gone


def test_a_picture_that_is_never_answered_is_asked_for_again_beside_it(page, server, room):
    job_id, _ = room.job(quick=True)
    asked, looked = Counter(), []

    def answer(route):
        address = route.request.url.split("?")[0]
        asked[address] += 1
        if asked[address] > 1 and looked:
            route.continue_()  # the first request stays open for good

    page.route("**/media/**", answer)
    begin_step(page, server, job_id, "mockup")
    page.get_by_text(re.compile("Fetching the picture|has not arrived; asking again")).wait_for()
    looked.append(True)
    page.wait_for_selector(FINISHED)
    page.wait_for_function(BASE_SHOWN)
    assert page.get_by_text("The picture has not arrived").is_hidden()
    assert page.locator(".stage img.base").get_attribute("src").startswith(server.url[:5])


def test_pictures_come_inside_the_message_where_no_request_is_answered(page, server, room):
    job_id, _ = room.job(quick=True)
    page.route("**/media/**", lambda _route: None)
    page.clock.install()
    begin_step(page, server, job_id, "mockup")
    for _ in range(200):  # its clock goes on by itself only where it is let
        page.wait_for_timeout(300)
        page.clock.run_for(12_000)
        if page.locator(FINISHED).count():
            break
    page.wait_for_selector(FINISHED)
    page.wait_for_function(BASE_SHOWN)
    assert page.locator(".stage img.mock").get_attribute("src").startswith("data:image/jpeg")


BASE_SHOWN = """() => [...document.querySelectorAll("*")].some(
  (n) => n.shadowRoot?.querySelector("img.base")?.naturalWidth > 0)"""


@pytest.mark.parametrize("said", [False, True], ids=["once", "until the page says so"])
def test_a_change_whose_way_is_blocked_is_sent_again(page, server, room, said):
    job_id, _ = room.job(quick=True)
    dropped, open_again = [], []

    def between(socket):
        onward = socket.connect_to_server()

        def told(message):
            change = b"batches" in (message if isinstance(message, bytes) else message.encode())
            if change and not open_again and (said or not dropped):
                dropped.append(message)
                return
            onward.send(message)

        socket.on_message(told)

    page.route_web_socket(re.compile("_stcore/stream"), between)
    open_step(page, server, job_id, "arrange")
    page.wait_for_selector(FINISHED)
    before = places(server, job_id)["p1"]
    carry(page, page.locator("g.piece").first, (0, -30))
    if said:
        page.get_by_text("kept here and not saved yet").wait_for()
        assert np.allclose(places(server, job_id)["p1"], before)
        open_again.append(True)
    for _ in range(300):  # messages pass through this thread, which may not sleep
        page.wait_for_timeout(100)
        if moved := not np.allclose(places(server, job_id)["p1"], before):
            break
    assert moved
    page.wait_for_selector(FINISHED)
    assert dropped
    page.get_by_text("not saved yet").wait_for(state="hidden")


def test_marks_moved_in_quick_succession_are_all_kept(page, server, room):
    """The second is let go before the first has been answered, the third before the second."""
    job_id, _ = room.job(quick=True)
    open_step(page, server, job_id, "wall")
    page.get_by_text("Good to").first.wait_for()  # a level from the sheet alone has a ± of its own
    page.get_by_text("Lines and lengths that sharpen the measurement").click()
    for number, name in enumerate(("Add a plumb line", "Add a level line"), 1):
        page.wait_for_selector("[data-test-script-state=notRunning]")
        page.get_by_role("button", name=name).click()
        until(lambda n=number: len(server.project(job_id).document.marks.lines) == n)
        page.locator(".handle[aria-label^='point 1 of']").nth(number - 1).wait_for()
    before = [m.start_px for m in server.project(job_id).document.marks.lines]
    corner = server.project(job_id).document.marks.reference.corners_px
    page.keyboard.down("Alt")  # no edge takes them
    for name in ("point 1 of plumb", "point 1 of level", "top left corner"):
        carry(page, page.locator(f".handle[aria-label^='{name}']"), (9, -11), steps=2)
    page.keyboard.up("Alt")

    def all_moved():
        marks = server.project(job_id).document.marks
        lines = [line.start_px for line in marks.lines]
        return (
            all(a != b for a, b in zip(lines, before, strict=True))
            and marks.reference.corners_px[0] != corner[0]
        )

    until(all_moved)


def test_an_arrow_key_just_before_a_reload_is_kept(page, server, room):
    job_id, _ = room.job(quick=True)
    open_step(page, server, job_id, "arrange")
    page.wait_for_selector(FINISHED)
    before = places(server, job_id)["p1"]
    page.locator("g.piece").first.focus()
    page.keyboard.press("ArrowRight")
    page.reload()
    page.wait_for_selector(FINISHED)
    assert places(server, job_id)["p1"] - before == pytest.approx([1, 0], abs=1e-6)


def test_an_arrow_key_just_before_undo_is_what_is_undone(page, server, room):
    job_id, _ = room.job(quick=True)
    open_step(page, server, job_id, "arrange")
    page.wait_for_selector(FINISHED)
    before = places(server, job_id)["p1"]
    page.locator("g.piece").first.focus()
    page.keyboard.press("Shift+ArrowUp")
    until(lambda: np.allclose(places(server, job_id)["p1"] - before, [0, 10]))
    revision = server.project(job_id).document.revision
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Control+z")
    until(lambda: server.project(job_id).document.revision == revision + 2)
    assert places(server, job_id)["p1"] - before == pytest.approx([0, 10], abs=1e-6)


def begin_step(page, server, job_id, step):
    """Go to a page that is never loaded in full."""
    page.goto(f"{server.url}/?job={job_id}&step={step}", wait_until="commit")
    page.wait_for_selector(".stage")

"""Messages to the wall view that are handled in another order than they were made.

The view's own scripts run in a page without a server; the test hands it what the server would.
"""

import json
from dataclasses import replace

import pytest

from visualiser.app import scene
from visualiser.app.wall_canvas import SCRIPTS, _asset

pytestmark = pytest.mark.browser

MAKE = """html => {
  const root = document.querySelector("#host").attachShadow({ mode: "open" });
  root.innerHTML = html;
  window.told = [];
  const tell = (name, value) => window.told.push([name, value]);
  window.hand = (data) => mountView({ parentElement: root, data, setStateValue: tell });
  window.inView = (selector) => root.querySelector(selector);
}"""
DOT = (
    "data:image/gif;base64,R0lGODlhAQABAIAAAAAAAP///yH5BAEAAAAALAAAAAABAAEAAAIBRAA7",
    "data:image/gif;base64,R0lGODlhAQABAIAAAP///wAAACH5BAEAAAAALAAAAAABAAEAAAICRAEAOw==",
)
"""Two pictures of one pixel."""
START_US = 1_800_000_000_000_000


@pytest.fixture
def hand(page, jobs_folder, room):
    """Hand the view one message of a job with three pieces."""
    _, project = room.job()
    survey, arrangement = project.survey(), project.arrangement()
    page.set_content('<div id="host" style="width:800px"></div>')
    scripts = "\n".join(_asset(name) for name in SCRIPTS)
    page.add_script_tag(content=scripts.replace("export default function", "function mountView"))
    page.evaluate(MAKE, _asset("view.html"))
    still = {
        "title": "Wall", "unit": "mm", "shapes": [], "contours": [], "compare": False,
        "kept": [], "still": False, "awaited": None, "snapped": None, "base": DOT[0],
        "width": 1600, "height": 1200, "mapping": scene.mapping_of(survey), "guides": {},
    }  # fmt: skip

    def pieces(x_mm):
        first, *others = arrangement.placements
        moved = replace(arrangement, placements=(replace(first, x_mm=x_mm), *others))
        return scene.piece_items(moved, {piece.id: DOT[0] for piece in moved.pieces})

    def message(x_mm, *, made_s, epoch=1, seen=0, **more):
        data = {**still, "pieces": pieces(x_mm), "epoch": epoch, "seen": seen, **more}
        page.evaluate(
            "data => hand(JSON.parse(data))",
            json.dumps({**data, "made_us": START_US + round(made_s * 1e6)}),
        )

    return message


def shown_mm(page):
    """Where the view has the first piece, as it tells it to a screen reader."""
    label = page.evaluate("inView('g.piece').getAttribute('aria-label')")
    number = label.partition("centre ")[2].partition(" mm from")[0]
    return float(number.replace("\u00a0", "").replace(" ", "").replace("−", "-"))


def nudge(page):
    """Press an arrow on the first piece, and wait until the server is told."""
    page.evaluate("inView('g.piece').focus()")
    page.keyboard.press("Shift+ArrowRight")
    page.wait_for_function("window.told.length > 0")
    return page.evaluate("window.told.at(-1)[1]")


def test_messages_in_their_order_are_all_taken(page, hand):
    hand(100, made_s=0)
    hand(200, made_s=1, epoch=2)
    assert shown_mm(page) == 200
    hand(300, made_s=1, epoch=3)  # the clock's own step is no reason to leave one out
    assert shown_mm(page) == 300


def test_an_earlier_state_does_not_come_back(page, hand):
    """An undo is answered, then what was there before it arrives after all."""
    hand(100, made_s=0)
    hand(200, made_s=3, epoch=3)
    hand(150, made_s=2, epoch=2)
    assert shown_mm(page) == 200
    hand(250, made_s=4, epoch=4)
    assert shown_mm(page) == 250


def test_an_answer_overtaken_by_the_next_is_not_taken_for_it(page, hand):
    """A nudge is answered with its picture; the picture from before it must not show again."""
    hand(100, made_s=0, mock=DOT[0])
    page.wait_for_function("inView('.stage').dataset.showing === 'finished'")
    edit = nudge(page)
    assert edit["placements"]["p1"][0] == pytest.approx(110)
    hand(110, made_s=2, seen=edit["seq"], mock=DOT[1])
    page.wait_for_function("inView('.stage').dataset.showing === 'finished'")
    hand(100, made_s=1, mock=DOT[0])
    assert page.evaluate("inView('img.mock').dataset.address") == DOT[1]
    assert page.evaluate("inView('.stage').dataset.showing") == "finished"
    assert shown_mm(page) == 110


def test_what_was_made_before_an_edit_neither_answers_nor_undoes_it(page, hand):
    hand(100, made_s=5)
    edit = nudge(page)
    hand(90, made_s=4, epoch=0)
    assert shown_mm(page) == 110
    page.wait_for_function("window.told.length > 1", timeout=15_000)  # still asked for an answer
    assert page.evaluate("window.told.at(-1)[1]") == edit


def test_a_clock_set_back_does_not_stop_the_view(page, hand):
    hand(100, made_s=0)
    hand(200, made_s=-3600, epoch=2)
    assert shown_mm(page) == 200
